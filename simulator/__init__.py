"""Floors that store heat from warm air blown through ducts buried under them, and how warm a night stays.

>>> import simulator
>>> results = simulator.run(simulator.load("night.toml"))  # doctest: +SKIP
>>> results["floor_mean_temperature"].values[-1]  # doctest: +SKIP
"""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from simulator.compiled import keep_compiled_loops

if TYPE_CHECKING:
    from simulator.case.loader import load
    from simulator.case.schema import Case
    from simulator.errors import CaseError, DuctfloorError, SolverError, StoreError
    from simulator.store.reader import Results
    from simulator.store.record import record
    from simulator.version import VERSION as __version__  # noqa: N811

__all__ = [
    "Case",
    "CaseError",
    "DuctfloorError",
    "Results",
    "SolverError",
    "StoreError",
    "__version__",
    "load",
    "record",
    "run",
]

_HOMES = {
    "Case": ("simulator.case.schema", "Case"),
    "CaseError": ("simulator.errors", "CaseError"),
    "DuctfloorError": ("simulator.errors", "DuctfloorError"),
    "Results": ("simulator.store.reader", "Results"),
    "SolverError": ("simulator.errors", "SolverError"),
    "StoreError": ("simulator.errors", "StoreError"),
    "__version__": ("simulator.version", "VERSION"),
    "load": ("simulator.case.loader", "load"),
    "record": ("simulator.store.record", "record"),
}


keep_compiled_loops(Path(__file__).parent)


class _CallableFolder(ModuleType):
    """The folder `simulator.run`, which also answers to a call: `simulator.run(case)` runs a case."""

    def __call__(self, case: Case, path: Path | str | None = None, **options: Any) -> Results:
        """Run a case and return its results; see `simulator.record`."""
        from simulator.store.record import record

        return record(case, path, **options)


class _Package(ModuleType):
    """Package that makes its folder `run` callable as soon as that is loaded."""

    def __setattr__(self, name: str, value: object) -> None:
        if name == "run" and isinstance(value, ModuleType):
            value.__class__ = _CallableFolder
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    # Looked up on first use: heavy libraries load only when they are wanted.
    import importlib

    if name == "run":
        return importlib.import_module("simulator.run")
    try:
        module, attribute = _HOMES[name]
    except KeyError:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message) from None
    value = getattr(importlib.import_module(module), attribute)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
