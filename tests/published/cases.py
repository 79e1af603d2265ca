"""Whole runs for published checks: one duct in a closed block of ground, everything else pinned.

Ground starts at 0 degC and air enters at STEP or swings about 0 degC; the room takes no part (no floor film,
air from outside to outside).
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.case.loader import load_text
from simulator.store.record import record

STEP = 10.0
"""Rise of the air entering the duct over the ground at the start [K]."""
RADIUS = 0.05
LENGTH = 10.0
CAPACITY_FLOW = 0.02 * 1207.2
"""Air of the checks by Hollmuller: 0.02 m3/s of 1207.2 J/(m3.K) [W/K]."""
AIR = {"mass_flow": "0.024144 kg/s", "air_heat_capacity": "1000 J/(kg.K)"}

BASE: dict[str, dict[str, Any]] = {
    "site": {"start": "2030-01-01T00:00:00", "duration": "1 days"},
    "weather": {"kind": "constant", "temperature": "0 degC"},
    "ground": {
        "depth": "3 m",
        "bottom": {"kind": "adiabatic"},
        "layers": [{"conductivity": "1.5 W/(m.K)", "heat_capacity": "2 MJ/(m3.K)"}],
        "start": {"kind": "uniform", "temperature": "0 degC"},
    },
    "floor": {"width": "3 m", "length": f"{LENGTH} m", "film": "0 W/(m2.K)"},
    "ducts": {"count": 1, "depth": "1.5 m", "diameter": f"{2 * RADIUS} m", "film": "10 W/(m2.K)"},
    "fan": {**AIR, "intake": "outside", "exit": "outside"},
    "heat": {"kind": "supply temperature", "temperature": f"{STEP} degC"},
    "room": {"kind": "fixed", "temperature": "0 degC"},
    "numerics": {"stations": 40},
    "output": {"interval": "5 min", "fields": "0 h"},
}


def toml(value: Any, key: str = "") -> str:
    """One value as TOML; the start of a case is a bare date."""
    if key == "start" and isinstance(value, str):
        return value
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {toml(inner, name)}" for name, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml(inner) for inner in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else repr(value)


def run(*, folder: Path | None = None, **changes: dict[str, Any]) -> dict[str, NDArray[Any]]:
    """Run the base case with some keys of some tables changed; a table with a new kind replaces the old.

    Returns
    -------
    dict
        Series by catalogue name, time in seconds.
    """
    tables = copy.deepcopy(BASE)
    for name, keys in changes.items():
        if "kind" in keys:
            tables[name] = {}
        tables.setdefault(name, {}).update(keys)
    lines = []
    for name, keys in tables.items():
        lines.append(f"[{name}]")
        lines += [f"{key} = {toml(value, key)}" for key, value in keys.items() if value is not None]
    wanted = ("time", "exit_temperature", "wall_temperature", "air_temperature", "duct_heat_per_length",
              "ground_temperature", "field_time", "section_depth", "section_across", "station",
              "outside_temperature", "ledger_residual", "ledger_handled")  # fmt: skip
    with record(load_text("\n".join(lines), folder=folder)) as results:
        return {name: np.array(results[name].values) for name in wanted}


def at(found: dict[str, NDArray[Any]], name: str, seconds: float) -> NDArray[Any]:
    """Values of a series at a row's time."""
    row = int(np.argmin(np.abs(found["time"] - seconds)))
    assert abs(found["time"][row] - seconds) < 1e-6, f"no row at {seconds} s"
    return found[name][row]
