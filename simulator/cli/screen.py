"""How commands put things on the screen: aligned rows, folded text, JSON, a bar with the time left."""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

import typer

if TYPE_CHECKING:
    from pathlib import Path

    from simulator.answers.cautions import Caution
    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.case.units import System

__all__ = [
    "heading",
    "paragraph",
    "print_advice",
    "print_cautions",
    "print_json",
    "print_written",
    "progress_bar",
    "rows",
    "screen_width",
    "system_named",
    "table",
]

NARROWEST: Final = 40
WIDEST: Final = 100
WHEN_PIPED: Final = 80
_GLUE: Final = "\N{NO-BREAK SPACE}"
_NUMBER_AND_UNIT: Final = re.compile(r"(?<=\d) (?=[A-Za-z%])")


def screen_width() -> int:
    """Width for text: that of the terminal within reason, 80 where there is none."""
    if not sys.stdout.isatty():
        return WHEN_PIPED
    return min(max(shutil.get_terminal_size((WHEN_PIPED, 24)).columns, NARROWEST), WIDEST)


def heading(text: str) -> None:
    """Print a heading after an empty line."""
    typer.echo()
    _echo_styled(one_line(text), bold=True)


def _echo_styled(text: str, **style: bool) -> None:
    if os.environ.get("NO_COLOR"):
        typer.echo(text)
    else:
        typer.secho(text, **style)  # type: ignore[arg-type]


def one_line(text: str) -> str:
    """Make text from a file safe to print: one line without control characters."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())


def paragraph(text: str, *, first: str = "  ", rest: str | None = None) -> None:
    """Print text folded to the screen, `first` before its first line and `rest` before the others."""
    # A number and its unit stay on one line.
    glued = _NUMBER_AND_UNIT.sub(_GLUE, one_line(text))
    folded = textwrap.fill(
        glued,
        screen_width(),
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
    typer.echo(folded.replace(_GLUE, " "))


def rows(pairs: Iterable[tuple[str, str]]) -> None:
    """Print labels and what belongs to them in two columns, the second one folded."""
    listed = list(pairs)
    margin = max((len(label) for label, _ in listed), default=0) + 4
    for label, text in listed:
        paragraph(text or "-", first=f"  {label}".ljust(margin), rest=" " * margin)


def table(head: Sequence[str], body: Iterable[Sequence[str]]) -> None:
    """Print columns under their heads, the first one to the left, the others to the right."""
    listed = [tuple(head), *(tuple(line) for line in body)]
    widths = [max(len(line[column]) for line in listed) for column in range(len(head))]
    for number, line in enumerate(listed):
        cells = [
            cell.ljust(width) if column == 0 else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(line, widths, strict=True))
        ]
        text = "  " + "  ".join(cells).rstrip()
        if number == 0:
            _echo_styled(text, dim=True)
        else:
            typer.echo(text)


def print_json(data: object) -> None:
    """Print data for other programs; what is no number becomes null."""
    typer.echo(json.dumps(plain(data), indent=2, ensure_ascii=False, allow_nan=False))


def print_written(path: Path, json_wanted: bool) -> None:
    """Say which file was written, in words or for other programs."""
    if json_wanted:
        print_json({"files": [str(path)]})
    else:
        typer.echo(f"wrote {path}")


def plain(value: Any) -> Any:
    """Turn dataclasses, arrays, dates and paths into what JSON knows."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    fields = getattr(value, "__dataclass_fields__", None)
    if fields is not None:
        return {name: plain(getattr(value, name)) for name in fields}
    if hasattr(value, "tolist") and getattr(getattr(value, "dtype", None), "kind", "M") not in "Mm":
        return plain(value.tolist())
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return str(value)


def system_named(asked: str | None, default: object) -> System:
    """Return the system of units asked for, or else the one of the case."""
    return "US" if str(asked or default) == "US" else "SI"


def print_cautions(found: Sequence[Caution | Finding | Alarm], system: System) -> None:
    """Print the limits that were passed, each with its source."""
    for severity, listed in groupby(found, key=lambda caution: caution.limit.severity):
        heading(severity.upper())
        for caution in listed:
            _print_caution(caution, system)


def _print_caution(caution: Caution | Finding | Alarm, system: System) -> None:
    paragraph(caution.text(system))
    paragraph(f"[{caution.limit.source}]")


def print_advice(*, in_full: bool) -> None:
    """Print what is to be minded on every job: in full, or only what it is about and where it is told."""
    from simulator.answers.cautions import STANDING

    if in_full:
        heading("Mind on every job")
        rows((advice.name, advice.message) for advice in STANDING)
        return
    typer.echo()
    *names, last = [advice.name for advice in STANDING]
    paragraph(f"Mind on every job {', '.join(names)} and {last}: ductfloor check CASE tells how.", first="")


@contextmanager
def progress_bar(what: str, *, wanted: bool = True) -> Iterator[Callable[[float], None] | None]:
    """Show a bar with the time left on stderr, but only when a person watches.

    Yields
    ------
    callable or None
        Takes the share done, 0 to 1; None when nobody watches.
    """
    if not wanted or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    if console.is_dumb_terminal:
        yield None
        return
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        TextColumn("left"),
    )
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("getting ready", total=None)

        def update(done: float) -> None:
            bar.update(task, description=what, total=1.0, completed=min(max(done, 0.0), 1.0))

        yield update
