"""Three thousand spoilt logs: each is read or refused in words, and nothing else happens."""

from __future__ import annotations

import random

import numpy as np
import pytest
from support.hostile import csv_logs, gpx_logs, spoilt

from ridesim.errors import InputError
from ridesim.logs.reader import read_log_bytes


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("good", [csv_logs, gpx_logs], ids=["csv", "gpx"])
def test_spoilt_logs_are_read_or_refused(good, seed):
    rng, files = random.Random(seed), good()
    read = refused = 0
    for _ in range(500):
        data = spoilt(rng.choice(files), rng)
        try:
            log = read_log_bytes(data, "spoilt")
        except InputError as error:
            refused += 1
            assert str(error).isprintable() and len(str(error)) < 2000
        else:
            read += 1
            assert np.all(np.diff(log.time_s) > 0) and np.all(np.isfinite(log.speed_m_s)) and np.all(log.speed_m_s >= 0)
    assert read > 10 and refused > 100  # else the mutations are too mild or too harsh to say anything


@pytest.mark.parametrize("data", csv_logs() + gpx_logs())
def test_the_good_ones_are_read(data):
    assert read_log_bytes(data, "good").time_s.size >= 20
