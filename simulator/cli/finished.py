"""Ctrl-C after the results are whole: what is kept is said, and how to go on with it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from simulator.cli.guard import STOPPED, complain

__all__ = ["finished"]


@contextmanager
def finished(results_file: Path) -> Iterator[None]:
    """Guard what is done with results that are stored already.

    Parameters
    ----------
    results_file : Path
        Named in the message when ctrl-C ends the block.
    """
    try:
        yield
    except KeyboardInterrupt:
        kept = f"the results are whole and stay in {results_file}"
        complain(f"stopped; {kept}: ductfloor show {results_file} tells them")
        raise typer.Exit(STOPPED) from None
