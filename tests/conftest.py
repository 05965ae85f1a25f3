"""What every test folder shares: no more than how much Hypothesis tries, and that it repeats."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

# Timings wobble on a busy machine, so no deadline; derandomised so that a failure comes back.
settings.register_profile(
    "cropper", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("cropper")


@pytest.fixture(autouse=True, scope="session")
def nobodys_record(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep the tests away from the record that whoever runs them keeps for work."""
    patch = pytest.MonkeyPatch()
    patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
    patch.delenv("CROPPER_RECORD", raising=False)
