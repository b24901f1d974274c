"""Settings for every property test: repeatable, and never failed by a busy machine; `fresh` draws new examples."""

from hypothesis import HealthCheck, settings

settings.register_profile("fresh", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("repeatable", settings.get_profile("fresh"), derandomize=True)
settings.load_profile("repeatable")
