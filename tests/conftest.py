"""What holds for every test: no clock decides one, and the drawn examples are the same each time, unless others are asked for."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, settings

settings.register_profile("anew", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
settings.register_profile("same", settings.get_profile("anew"), derandomize=True)
settings.register_profile("mutants", settings.get_profile("same"), phases=[Phase.explicit, Phase.generate])
settings.load_profile("same")
