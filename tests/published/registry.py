"""What a published check is, and the list of all of them, from which the table in DEVELOPERS.md is made."""

from __future__ import annotations

import functools
import importlib
import json
import os
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

READ = "read"
"""The number or formula was read in a copy of the source."""
MEMORY = "from memory"
"""Source and number are recalled; the page was not seen."""
RECOMPUTED = "recomputed"
"""The source's formula is recalled; its values come from an evaluation apart from this program."""
EXACT = "exact"
"""A closed formula, evaluated in the test."""


@dataclass(frozen=True)
class Row:
    """One comparison; `tolerance` is absolute, in the unit of the values."""

    check: str
    ours: float
    published: float
    tolerance: float
    unit: str = ""
    decimals: int = 5

    @property
    def holds(self) -> bool:
        """Whether ours lies within the tolerance; never for a value that is no number."""
        return abs(self.ours - self.published) <= self.tolerance


@dataclass(frozen=True)
class Check:
    """A named group of rows of one source."""

    name: str
    module: str
    source: str
    status: str
    slow: bool
    compute: Callable[[], Iterable[Row]]

    def rows(self) -> tuple[Row, ...]:
        """All rows, computed once."""
        return _rows_of(self)

    def verify(self) -> None:
        """Fail with every row that misses its tolerance."""
        verify(self.rows())


_SHARED: list[Path] = []


def share_rows(folder: Path) -> None:
    """Keep rows in a folder from now on, and take those that another process of the same tests kept there."""
    folder.mkdir(exist_ok=True)
    _SHARED[:] = [folder]


@functools.cache
def _rows_of(check: Check) -> tuple[Row, ...]:
    kept = [folder / f"{check.module}.{check.name}.json" for folder in _SHARED]
    for path in kept:
        if path.exists():
            return tuple(Row(**row) for row in json.loads(path.read_text(encoding="utf-8")))
    rows = tuple(check.compute())
    for path in kept:
        part = path.with_suffix(f".{os.getpid()}")
        part.write_text(json.dumps([asdict(row) for row in rows], default=float), encoding="utf-8")
        part.replace(path)
    return rows


_CHECKS: dict[tuple[str, str], Check] = {}


def check(source: str, status: str, *, slow: bool = False) -> Callable[[Callable[[], Iterable[Row]]], Check]:
    """Register a function that computes rows."""

    def register(compute: Callable[[], Iterable[Row]]) -> Check:
        module = Path(compute.__code__.co_filename).stem
        made = Check(compute.__name__, module, source, status, slow, compute)
        # A module that is imported twice, under two names, is still one source.
        return _CHECKS.setdefault((module, compute.__name__), made)

    return register


def verify(rows: Iterable[Row]) -> None:
    """Fail with every row that misses its tolerance."""
    kept = list(rows)
    assert kept, "a check without rows"
    misses = [
        f"{row.check}: {row.ours:.{row.decimals + 2}f} against {row.published} +- {row.tolerance} {row.unit}"
        for row in kept
        if not row.holds
    ]
    assert not misses, "\n".join(misses)


def all_checks() -> list[Check]:
    """Every check of this folder, by file and by place in it."""
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        importlib.import_module(f"tests.published.{path.stem}")
    return [_CHECKS[key] for key in sorted(_CHECKS, key=lambda key: (key[0], list(_CHECKS).index(key)))]
