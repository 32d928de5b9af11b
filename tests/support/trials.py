"""A trial as it is kept, for tests that keep, carry or judge some."""

from __future__ import annotations

from typing import Any

from ridesim.garage.trials import Settings, Trial, TrialAir

AIR = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
FULL = Settings(
    main_jet=117.5, main_jet_numbering="bore", pilot_jet=38, pilot_jet_numbering="flow", needle="D4-3", clip_position=3,
    mixture_screw_turns_out=2.25, mixture_screw="air", slide_cutaway=2.5, intake_open_area_m2=0.0012, intake_holes_m=(0.025, 0.03),
    exhaust="stock, baffle in", other={"plug": "grade 8", "float height": 0.014},
)  # fmt: skip


def trial(**given: Any) -> Trial:
    """A trial with everything written down, but for what is given otherwise."""
    return Trial(**({"ridden_at": "2031-05-04T09:30:00Z", "air": AIR, "settings": FULL} | given))
