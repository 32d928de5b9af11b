"""A recorded log and ways on the sphere beside another library's reading of them."""

from __future__ import annotations

import itertools
from datetime import UTC
from pathlib import Path

import numpy as np
import pytest

from ridesim.logs.fits.demand import _smoothed
from ridesim.logs.reader import read_log
from ridesim.logs.reading.positions import great_circle_m

pytestmark = pytest.mark.reference
TRACK = Path(__file__).parents[1] / "support" / "open_data" / "korita-zbevnica.gpx"


def test_a_recorded_track_has_the_length_and_times_that_another_library_reads():
    import gpxpy

    with TRACK.open(encoding="utf-8") as file:
        gpx = gpxpy.parse(file)
    timed = [track for track in gpx.tracks if track.get_time_bounds().start_time]
    log = read_log(TRACK)
    points = [point for track in timed for segment in track.segments for point in segment.points]
    assert log.time_s.size == len(points)
    moments = np.array([point.time.astimezone(UTC).timestamp() for point in points])
    np.testing.assert_allclose(log.time_s, moments - moments[0])
    np.testing.assert_allclose(log.elevation_m, [point.elevation for point in points])
    between = timed[0].segments[-1].points[-1].distance_2d(timed[1].segments[0].points[0])
    assert log.distance_m[-1] == pytest.approx(sum(track.length_2d() for track in timed) + between, rel=2e-3)
    assert any("too seldom" in note for note in log.notes)


def test_ways_on_the_sphere_are_those_of_another_library():
    from gpxpy.geo import haversine_distance

    places = [(45.0, 14.0), (45.5, 14.2), (44.1, 15.9), (-33.0, 151.0)]
    ours = great_circle_m(*np.array(places).T)
    theirs = [haversine_distance(*a, *b) for a, b in itertools.pairwise(places)]
    # the other library takes the equator's radius 6378.137 km, ours is the mean radius 6371.0088 km
    np.testing.assert_allclose(ours, np.array(theirs) * 6371.0088 / 6378.137, rtol=1e-6)


@pytest.mark.parametrize("sigma", [2.2, 2.4, 10.0])
def test_a_row_is_smoothed_as_by_another_library(sigma):
    from scipy.ndimage import gaussian_filter1d

    row = np.cumsum(np.random.default_rng(5).normal(size=200))
    np.testing.assert_allclose(_smoothed(row, sigma), gaussian_filter1d(row, sigma), rtol=1e-12)
