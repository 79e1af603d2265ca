"""Tables with many columns: fitted to the terminal, plain and in full width for pipes."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from simulator.cli.screen import one_line

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_wide_table"]

PIPED_WIDTH = 2000


def print_wide_table(
    head: Sequence[str],
    body: Sequence[Sequence[str]],
    *,
    words: frozenset[int] = frozenset(),
    marked: dict[int, str] | None = None,
) -> None:
    """Print columns under their heads.

    Parameters
    ----------
    head : sequence of str
    body : sequence of sequence of str
    words : frozenset of int
        Columns of words, set to the left; the others are numbers, set to the right.
    marked : dict of int to str, optional
        Rows to be set apart: "bad", "best" or "quiet".
    """
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    styles = {"bad": "red", "best": "bold", "quiet": "dim"}
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_edge=False)
    for number, title in enumerate(head):
        left = number in words
        table.add_column(
            Text(one_line(title)), justify="left" if left else "right", overflow="fold",
            no_wrap=not left, min_width=None if left else _longest(title, [row[number] for row in body]),
        )  # fmt: skip
    for number, row in enumerate(body):
        style = styles.get((marked or {}).get(number, ""), "")
        table.add_row(*(Text(one_line(cell)) for cell in row), style=style)
    console = _console()
    with console.capture() as captured:
        console.print(Padding(table, (0, 0, 0, 2), expand=False))
    for line in captured.get().splitlines():
        typer.echo(line.rstrip())


def _longest(title: str, cells: Sequence[str]) -> int:
    """Room a column of numbers needs: its heads may fold between words, its numbers may not."""
    return max([*map(len, title.split()), *map(len, cells)], default=1)


def _console() -> Console:
    from rich.console import Console

    watched = sys.stdout.isatty()
    return Console(
        file=sys.stdout, width=None if watched else PIPED_WIDTH, highlight=False, markup=False, emoji=False,
        color_system="auto" if watched and not os.environ.get("NO_COLOR") else None,
        force_terminal=watched, legacy_windows=False,
    )  # fmt: skip
