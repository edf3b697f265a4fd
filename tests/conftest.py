"""Settings shared by all tests: repeatable random cases, and where the data files are."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Small matrices everywhere: threads of the linear algebra are only in the way of other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

ROOT = Path(__file__).parent.parent

# The same cases in every run and on every machine: a red test is always worth looking at.
settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def reference_folder() -> Path:
    """Return the folder of published numbers."""
    return ROOT / "reference"


@pytest.fixture(scope="session")
def acceptance_folder() -> Path:
    """Return the folder of boards that were solved by another simulator."""
    return ROOT / "tests" / "acceptance"
