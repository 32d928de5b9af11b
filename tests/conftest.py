"""What holds for every test: no clock decides one, and the drawn examples are the same forty each time, unless others are asked for."""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads wait for each other longer than they work

import gc
import hashlib
import pickle
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from filelock import FileLock
from hypothesis import HealthCheck, Phase, settings

gc.disable()  # all that is collected stays: see pytest_collection_finish
settings.register_profile("anew", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
settings.register_profile("same", settings.get_profile("anew"), derandomize=True, max_examples=40)
settings.register_profile("mutants", settings.get_profile("same"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("same")


def pytest_collection_finish() -> None:
    """Thousands of tests and modules are nothing to look through for garbage."""
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def pulls_are_fitted_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The fit of a day of pulls takes seconds: the same runs on the same bike are fitted once in a test run, by one of its processes."""
    from ridesim.logs.fits import pull

    made: dict[str, Any] = {}
    make, folder = pull.DayOfPulls, tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder

    def fitted(pulls: Any, progress: Any = None) -> Any:
        told = hashlib.sha256(repr((pulls.bike, pulls.ways, pulls.mean)).encode())
        for one in (one for pair in pulls.samples for one in pair):
            told.update(np.ascontiguousarray(one).tobytes())
        key = told.hexdigest()
        with FileLock(folder / f"{key}.lock"):
            file = folder / f"{key}.fit"
            if not file.exists():
                file.write_bytes(pickle.dumps(make(pulls, progress)))
            elif progress:
                progress(1.0)
        if key not in made:
            made[key] = pickle.loads(file.read_bytes())
        return made[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pull, "DayOfPulls", fitted)
        yield
