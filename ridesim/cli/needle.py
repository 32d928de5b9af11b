"""The needle in its jet: free area by lift, another clip groove, another needle."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any

from ridesim.cli.given import meters, placed
from ridesim.cli.options import Printing, Spelt, dashed, grouped, option
from ridesim.cli.output import say
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.fueling.needle import Needle, NeedleSeat

FINE = 200  # steps of lift that a needle is worked out in, at least
SEAT_PLACES = {
    "needle_jet.bore": "--needle-jet",
    "main_jet.bore": "--main-jet",
    "needle_jet.seat_to_jet": "--seat-to-jet",
    "slide.full_lift": "--full-lift",
}


@dataclass(frozen=True, kw_only=True)
class SeatWritten:
    """What the needle works in, as it is written."""

    needle_jet: str = option("Bore of the needle jet, such as '2.60 mm'.", default=...)
    main_jet: str = option("Bore, such as '1.2 mm', or a number stamped by bore, such as 120.", default=...)
    seat_to_jet: str = option("Slide shut: from the clip's seat down to the edge of the needle jet.", default=...)
    full_lift: str = option("Lift of the slide from shut to full.", default=...)

    def read(self) -> NeedleSeat:
        """In SI."""
        from ridesim.fueling.needle import NeedleSeat

        with placed(SEAT_PLACES, _of_options(self)):
            return NeedleSeat(
                needle_jet_bore_m=meters(self.needle_jet, "--needle-jet"),
                main_jet_bore_m=_main_jet_bore(self.main_jet),
                seat_to_jet_m=meters(self.seat_to_jet, "--seat-to-jet"),
                full_lift_m=meters(self.full_lift, "--full-lift"),
            )


@dataclass(frozen=True, kw_only=True)
class NeedleWritten:
    """A needle as it is written."""

    straight: str = option("Diameter of the straight part, such as '2.515 mm'.", default=...)
    taper_start: str = option("From the top groove to where the taper starts.", default=...)
    length: str = option("From the top groove to the end of the taper.", default=...)
    end: str | None = option("Diameter at the end of the taper.")
    taper: str | None = option("Or the full angle of the taper, such as '1.5 deg'.")
    grooves: int = option("Number of grooves.", default=5)
    groove_pitch: str = option("From groove to groove.", default="0.9 mm")

    def read(self) -> Needle:
        """In SI; its problems are named by the options of this needle."""
        from ridesim.fueling.needle import Needle

        return Needle(
            straight_diameter_m=meters(self.straight, "--straight"),
            taper_start_m=meters(self.taper_start, "--taper-start"),
            length_m=meters(self.length, "--length"),
            end_diameter_m=None if self.end is None else meters(self.end, "--end"),
            taper_angle_rad=None if self.taper is None else float(quantity(self.taper, "angle", "deg", "--taper")),
            clips=self.grooves,
            clip_pitch_m=meters(self.groove_pitch, "--groove-pitch"),
        )


@dataclass(frozen=True, kw_only=True)
class OtherNeedle:
    """What another needle has otherwise."""

    straight: str | None = option("Of another needle; what is not given stays.")
    taper_start: str | None = option("Of another needle.")
    length: str | None = option("Of another needle.")
    end: str | None = option("Of another needle.")
    taper: str | None = option("Of another needle.")

    def beside(self, fitted: NeedleWritten) -> NeedleWritten | None:
        """The fitted needle with what is otherwise here, its taper written in one way; None where nothing is."""
        given = {name: value for name, value in asdict(self).items() if value is not None}
        if "end" in given or "taper" in given:
            given |= {"end": self.end, "taper": self.taper}
        return replace(fitted, **given) if given else None


@grouped
def needle(
    *,
    fitted: NeedleWritten,
    clip: int = option("Groove of the clip, 1 the top one.", default=...),
    seat: SeatWritten,
    other: Annotated[OtherNeedle, Spelt(before="new_")],
    printing: Printing,
    new_clip: int | None = option("Groove after the change."),
    rows: int = option("Lifts to print, from shut to full.", default=9, min=2, max=201),
) -> None:
    """Free area of a needle in its jet over the lift of the slide; another clip groove or another needle beside it."""
    import numpy as np

    from ridesim.fueling.needle import needle_change, needle_curve
    from ridesim.fueling.needle_answers import change_answer, curve_answer

    works_in = seat.read()
    written = _of_options(seat) | _of_options(fitted) | {"--clip": clip}
    which_clip = "clip" if not 1 <= clip <= fitted.grooves else "new-clip"
    # lifts worked out for each one printed, so that what is said does not hang on the rows
    fine = -(-FINE // (rows - 1))
    lifts = np.linspace(0.0, works_in.full_lift_m, (rows - 1) * fine + 1)
    changed = other.beside(fitted)
    with placed(_needle_places("--"), written):
        own = fitted.read()
    if changed is None:
        with placed(_needle_places("--", which_clip), written):
            if new_clip is None:
                curve = needle_curve(own, works_in, clip=clip, lifts_m=lifts)
                return say(curve_answer(curve, fine), printing)
            change = needle_change(own, works_in, clip=clip, new_clip=new_clip, lifts_m=lifts)
    else:
        with placed(_needle_places("--new-", which_clip), written | _of_options(other, "--new-")):
            change = needle_change(
                replace(own, name="the needle"),
                works_in,
                clip=clip,
                new_clip=clip if new_clip is None else new_clip,
                new_needle=replace(changed.read(), name="the other needle"),
                lifts_m=lifts,
            )
    return say(change_answer(change, fine), printing)


def _main_jet_bore(written: str) -> float:
    """A bore with its unit, or a stamped number."""
    from ridesim.fueling.jets import jet_bore_m

    try:
        size = float(written)
    except ValueError:
        return meters(written, "--main-jet")
    with placed({"jet": "--main-jet"}):
        return float(jet_bore_m(size))


def _needle_places(before: str, clip: str = "clip") -> dict[str, str]:
    """Where the library says that something will not do, and the option: before stands before those of the needle."""
    own = {
        "needle.straight_diameter": "straight",
        "needle.taper_start": "taper-start",
        "needle.length": "length",
        "needle.end_diameter": "end",
        "needle.taper_angle": "taper",
        "needle.taper": "end or --taper",
    }
    option = {f"--{name}": f"{before}{name}" for name in own.values()}  # as the options of the first needle are read
    both = {"needle.clips": "--grooves", "needle.clip_pitch": "--groove-pitch", "needle.diameter": "--needle-jet",
            "needle.clip": f"--{clip}", "slide.lift": "--full-lift"}  # fmt: skip
    return option | {name: f"{before}{key}" for name, key in own.items()} | both


def _of_options(record: Any, before: str = "--") -> dict[str, object]:
    """What was written, by the options."""
    return {dashed(name, before): value for name, value in asdict(record).items() if value is not None}
