"""What `sigsim.measure` offers by name, as the manual's page on Python lists it."""

from __future__ import annotations

import pkgutil
from types import ModuleType

import sigsim.measure


def test_no_module_takes_the_name_of_what_is_offered() -> None:
    """Python gives a package its modules as attributes as soon as one of them is imported."""
    modules = {module.name for module in pkgutil.iter_modules(sigsim.measure.__path__)}
    assert not modules & set(sigsim.measure.__all__)
    for name in sigsim.measure.__all__:
        assert not isinstance(getattr(sigsim.measure, name), ModuleType)
        assert name in dir(sigsim.measure)
