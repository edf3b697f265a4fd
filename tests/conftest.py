"""Settings shared by all tests: repeatable random cases."""

import os

from hypothesis import HealthCheck, settings

# Small matrices everywhere: threads of the linear algebra are only in the way of other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# The same cases in every run and on every machine: a red test is always worth looking at.
settings.register_profile(
    "repeatable",
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("repeatable")
