"""The first run of a kind compiles inner loops, which takes long: it is said, and why only this once."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.cli.guard import note
from simulator.compiled import is_first_use, note_use

if TYPE_CHECKING:
    from simulator.case.schema import Case

__all__ = ["told_if_first"]

PACKAGE = Path(__file__).parents[1]
PLAIN = "air and ground"
UPSETS = "rules or upsets"


@contextmanager
def told_if_first(case: Case, *, with_upsets: bool = False, wanted: bool = True) -> Iterator[None]:
    """Say that loops are compiled if a case needs some that never were; note it when the block has ended.

    Parameters
    ----------
    case : Case
    with_upsets : bool
        Whether it is run with upsets that it does not hold itself.
    wanted : bool
        Whether to say it; it is never said where no person watches.
    """
    needed = dict.fromkeys([*parts_of(case), *([UPSETS] if with_upsets else [])])
    new = [part for part in needed if is_first_use(part, PACKAGE)]
    if new and wanted and sys.stderr.isatty():
        note(message(new))
    yield
    for part in new:
        note_use(part, PACKAGE)


def message(new: list[str]) -> str:
    """Say in one line what is compiled, how long it takes and that it is kept."""
    if PLAIN in new:
        what, long = "this is the first run here", "most of a minute"
    else:
        *others, last = new
        parts = f"{', '.join(others)} and {last}" if others else last
        what, long = f"this is the first run here with {parts}", "about half a minute"
    return f"{what}: inner loops are being compiled, which takes {long}; they are kept, so only this once"


def parts_of(case: Case) -> list[str]:
    """Parts of the program with loops of their own that a case needs."""
    return [
        PLAIN,
        *(["moisture"] if case.moisture is not None else []),
        *(["a flue run"] if case.flue is not None else []),
        *(["a stove"] if case.stove is not None else []),
        *(["a house"] if case.room.kind == "house" else []),
        *([UPSETS] if case.controls is not None or case.upsets else []),
        *(["ground that freezes"] if case.ground.freezing else []),
        *(["the direct solver"] if case.numerics.solver == "direct" else []),
    ]
