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
    from simulator.answers.cautions import cautions
    from simulator.answers.flow import air_flow
    from simulator.answers.flue import flue_run
    from simulator.answers.heat_account import heat_account
    from simulator.answers.heat_flows import heat_flows
    from simulator.answers.measured import Measured
    from simulator.answers.moisture import duct_moisture
    from simulator.answers.overnight import overnight
    from simulator.answers.sum_fuel import fuel_sum
    from simulator.answers.sum_heat import heat_sum, share_sum
    from simulator.answers.sum_streams import air_sum, water_sum
    from simulator.case.loader import load
    from simulator.case.schema import Case
    from simulator.errors import CaseError, DuctfloorError, SolverError, StoreError
    from simulator.look.charts import night_chart
    from simulator.look.heat_flow_picture import heat_flow_picture, heat_flow_picture_of_results
    from simulator.look.ledger_bars import ledger_bars
    from simulator.look.maps import plan_map, section_map
    from simulator.store.reader import Results
    from simulator.store.record import record
    from simulator.version import VERSION as __version__  # noqa: N811

__all__ = [
    "Case",
    "CaseError",
    "DuctfloorError",
    "Measured",
    "Results",
    "SolverError",
    "StoreError",
    "__version__",
    "air_flow",
    "air_sum",
    "cautions",
    "duct_moisture",
    "flue_run",
    "fuel_sum",
    "heat_account",
    "heat_flow_picture",
    "heat_flow_picture_of_results",
    "heat_flows",
    "heat_sum",
    "ledger_bars",
    "load",
    "night_chart",
    "overnight",
    "plan_map",
    "record",
    "run",
    "section_map",
    "share_sum",
    "water_sum",
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
    "cautions": ("simulator.answers.cautions", "cautions"),
    "air_flow": ("simulator.answers.flow", "air_flow"),
    "flue_run": ("simulator.answers.flue", "flue_run"),
    "heat_account": ("simulator.answers.heat_account", "heat_account"),
    "heat_flows": ("simulator.answers.heat_flows", "heat_flows"),
    "Measured": ("simulator.answers.measured", "Measured"),
    "duct_moisture": ("simulator.answers.moisture", "duct_moisture"),
    "overnight": ("simulator.answers.overnight", "overnight"),
    "fuel_sum": ("simulator.answers.sum_fuel", "fuel_sum"),
    "heat_sum": ("simulator.answers.sum_heat", "heat_sum"),
    "share_sum": ("simulator.answers.sum_heat", "share_sum"),
    "air_sum": ("simulator.answers.sum_streams", "air_sum"),
    "water_sum": ("simulator.answers.sum_streams", "water_sum"),
    "night_chart": ("simulator.look.charts", "night_chart"),
    "heat_flow_picture": ("simulator.look.heat_flow_picture", "heat_flow_picture"),
    "heat_flow_picture_of_results": ("simulator.look.heat_flow_picture", "heat_flow_picture_of_results"),
    "ledger_bars": ("simulator.look.ledger_bars", "ledger_bars"),
    "plan_map": ("simulator.look.maps", "plan_map"),
    "section_map": ("simulator.look.maps", "section_map"),
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
