"""Settings for every property test: repeatable, and never failed by a busy machine."""

from hypothesis import HealthCheck, settings

settings.register_profile("repeatable", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("repeatable")
