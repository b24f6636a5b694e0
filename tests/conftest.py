"""Hypothesis profiles: small and the same examples every time by default, `--hypothesis-profile=thorough` for a long search."""

from hypothesis import HealthCheck, settings

# No deadline and no complaint about slowness: a busy machine must not fail a test.
CALM = (HealthCheck.too_slow,)
settings.register_profile("small", max_examples=40, derandomize=True, deadline=None, database=None, suppress_health_check=CALM)
settings.register_profile("thorough", max_examples=2000, deadline=None, suppress_health_check=CALM)
settings.load_profile("small")
