"""Settings shared by all tests: repeatable random cases."""

import os
from typing import Final

import pytest
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

# Files that take ten seconds and more, with roughly how many on an idle machine. They are begun
# first, so that at the end no process waits for another that has only begun a long one.
LONG: Final = {
    "test_docs.py": 100,
    "test_coils.py": 50,
    "test_plots.py": 50,
    "test_cables.py": 50,
    "test_listen.py": 45,
    "test_what_goes_wrong.py": 45,
    "test_bench_recipes.py": 45,
    "test_recipes.py": 40,
    "test_fuzz.py": 40,
    "test_drawer_browser.py": 35,
    "test_lay_browser.py": 25,
    "test_gestures_browser.py": 25,
    "test_model_browser.py": 25,
    "test_page_browser.py": 20,
    "test_live_running.py": 15,
    "test_live_edits.py": 15,
    "test_live_questions.py": 15,
    "test_report_browser.py": 30,
    "test_sound_server.py": 30,
    "test_extreme_boards.py": 30,
    "test_every_state.py": 30,
    "test_signals.py": 30,
    "test_summed.py": 25,
    "test_forms.py": 25,
    "test_listen_filter.py": 25,
    "test_summary.py": 20,
    "test_bench_sweeps.py": 25,
    "test_surroundings.py": 25,
    "test_other_things.py": 25,
    "test_physics_random.py": 25,
    "test_states_command.py": 20,
    "test_verify.py": 20,
    "test_report.py": 20,
    "test_counted.py": 20,
    "test_variants_browser.py": 20,
    "test_buffer.py": 15,
    "test_spice_random.py": 15,
    "test_limits.py": 15,
    "test_advice.py": 12,
    "test_physics_properties.py": 12,
    "test_heard.py": 12,
    "test_faults.py": 12,
    "test_record.py": 12,
    "test_compare.py": 12,
    "test_ends.py": 12,
    "test_spice_command.py": 12,
    "test_folding.py": 12,
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first; the tests of a file stay together and in their order."""
    items.sort(key=lambda item: -LONG.get(item.path.name, 0))
