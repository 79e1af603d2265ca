"""Single values out of the case that results carry, without reading the files that it names."""

from __future__ import annotations

import json
from typing import Any, overload

from simulator.case.toml_reading import read_toml
from simulator.case.units import parse
from simulator.errors import CaseError

__all__ = ["CaseValues"]


class CaseValues:
    """The case text of results: a case file with units, or the numbers of a case that was built in Python.

    Parameters
    ----------
    case_text : str
    """

    def __init__(self, case_text: str) -> None:
        self.in_si = False
        try:
            self.tables: dict[str, Any] = read_toml(case_text)
        except CaseError:
            # A case that was built in Python is kept as JSON with numbers in SI.
            self.in_si = True
            self.tables = _json(case_text)

    def table(self, name: str) -> dict[str, Any]:
        """Return a table; empty when there is none."""
        found = self.tables.get(name)
        return found if isinstance(found, dict) else {}

    def rows(self, name: str) -> list[dict[str, Any]]:
        """Return the entries of a list of tables; empty when there is none."""
        found = self.tables.get(name)
        return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []

    @overload
    def quantity(self, table: dict[str, Any], key: str, dimension: str, default: float) -> float: ...

    @overload
    def quantity(
        self, table: dict[str, Any], key: str, dimension: str, default: float | None
    ) -> float | None: ...

    def quantity(
        self, table: dict[str, Any], key: str, dimension: str, default: float | None
    ) -> float | None:
        """Return a quantity of a table in SI."""
        value = table.get(key)
        if value is None:
            return default
        try:
            return float(value) if self.in_si else parse(value, dimension)
        except (CaseError, OverflowError, TypeError, ValueError):
            # The file was tampered with: no case of ours reads like this.
            return default


def _json(text: str) -> dict[str, Any]:
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
