"""What holds for every test: no clock decides one, and on a clean checkout the drawn examples are the same each time."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("anywhere", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
settings.register_profile("same-each-time", settings.get_profile("anywhere"), derandomize=True)
settings.load_profile("same-each-time" if os.environ.get("CI") else "anywhere")
