"""What every test folder shares: no more than how much Hypothesis tries, and that it repeats."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

# Timings wobble on a busy machine, so no deadline; derandomised so that a failure comes back.
settings.register_profile(
    "cropper", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("cropper")
