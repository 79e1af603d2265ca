"""`ductfloor compare`: two or more cases or results side by side."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from datetime import datetime

    from simulator.answers.compare import Compared
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["compare"]

FIRST_BYTES = b"\x89HDF"


@guarded
def compare(
    files: Annotated[
        list[Path], typer.Argument(metavar="A B [C ...]", help="Case files, which are run, or results files.")
    ],
    time: Annotated[
        str | None,
        typer.Option(
            help='Moment of the map: "2031-01-16 06:00", "06:00" or "+6 h" after the start. Left out: '
            "the end of the night."
        ),
    ] = None,
    night: Annotated[int | None, typer.Option(help="Which night the answers are about; -1 the last.")] = None,
    output: Annotated[
        list[str] | None,
        typer.Option("--output", "-o", help='A further answer, such as "hours room under 40 degF".'),
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Show answers too in which nothing differs.")] = False,
    out: Annotated[
        Path | None, typer.Option(help="Begin of the names of pictures. Left out: A-and-B in this folder.")
    ] = None,
    pictures: Annotated[bool, typer.Option("--pictures/--no-pictures", help="Draw curves and map.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print the comparison as JSON.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is shown.")
    ] = None,
) -> None:
    """Say what differs between cases or results: in what was put in, and in what came out."""
    from simulator.answers.compare import compare as put_side_by_side
    from simulator.answers.members import Span
    from simulator.answers.overnight import overnight
    from simulator.cli.moments import moment_typed
    from simulator.cli.screen import print_json, system_named
    from simulator.errors import DuctfloorError

    if not 2 <= len(files) <= 7:
        raise DuctfloorError(f"{len(files)} files: give 2 to 7 to compare")
    labels = _labels(files)
    with ExitStack() as stack:
        results = [stack.enter_context(_opened(path)) for path in files]
        compared = put_side_by_side(results, labels, span=Span(night=night), outputs=output or [])
        system = system_named(units, results[0].attrs["shown_in"])
        stem = out or Path("-and-".join(label.replace("/", "-") for label in labels[:3]))
        moment = (
            overnight(results[0], night=night).window.end
            if time is None
            else moment_typed(results[0], time, "--time")
        )
        written, notes = _draw(results, labels, stem, moment, system) if pictures else ([], [])
    if json:
        print_json(
            {**compared.as_data(), "telling": _sentences(compared, system), "notes": notes,
             "files": [str(path) for path in written]}
        )  # fmt: skip
        return
    _print(compared, system, every=every)
    for note in notes:
        typer.echo(f"\nnote: {note}")
    if written:
        typer.echo("\nwrote " + ", ".join(map(str, written)))


def _labels(files: list[Path]) -> list[str]:
    """Short names, as long as they have to be to differ."""
    stems = [path.stem for path in files]
    if len(set(stems)) == len(stems):
        return stems
    names = [path.as_posix() for path in files]
    if len(set(names)) == len(names):
        return names
    return [f"{number}: {stem}" for number, stem in enumerate(stems, start=1)]


def _opened(path: Path) -> Results:
    """Open results, or run a case and keep its results in memory."""
    from simulator.case.loader import load
    from simulator.cli.screen import progress_bar
    from simulator.store.reader import Results
    from simulator.store.record import record

    if path.is_file():
        with path.open("rb") as file:
            if file.read(len(FIRST_BYTES)) == FIRST_BYTES:
                return Results(path)
    case = load(path)
    with progress_bar(path.stem) as progress:
        return record(case, progress=progress)


def _draw(
    results: list[Results], labels: list[str], stem: Path, moment: datetime, system: System
) -> tuple[list[Path], list[str]]:
    from simulator.errors import DuctfloorError
    from simulator.look.compare_chart import compare_chart
    from simulator.look.difference_map import difference_map
    from simulator.look.save import save

    def named(kind: str) -> Path:
        return stem.with_name(f"{stem.name}-{kind}.png")

    written = [save(compare_chart(results, labels, units=system), named("curves"))]
    notes = []
    for number in range(1, len(results)):
        kind = "floor" if len(results) == 2 else f"floor-{number + 1}"
        try:
            figure = difference_map(
                results[0], results[number], (labels[0], labels[number]), moment, units=system
            )
        except DuctfloorError as error:
            notes.append(f"no map for {labels[number]}: {error}")
            continue
        written.append(save(figure, named(kind)))
    return written, notes


def _sentences(compared: Compared, system: System) -> dict[str, list[str]]:
    from simulator.answers.telling import telling

    return {
        compared.labels[number]: telling(compared, number, system)
        for number in range(1, len(compared.labels))
    }


def _print(compared: Compared, system: System, *, every: bool) -> None:
    from simulator.answers.outputs import shown
    from simulator.cli.screen import heading, one_line, paragraph
    from simulator.cli.wide_table import print_wide_table

    for label, title, window in zip(compared.labels, compared.titles, compared.windows, strict=True):
        typer.echo(one_line(f"{label}: {title}, {window}"))
    for label, sentences in _sentences(compared, system).items():
        heading("In words" if len(compared.labels) == 2 else f"In words: {label}")
        for sentence in sentences:
            paragraph(sentence)
    heading("What was put in")
    if compared.inputs is None:
        paragraph("One of them was built in Python; what it was given cannot be compared key by key.")
    elif not compared.inputs:
        paragraph("The same.")
    else:
        rows = [[row.key, *(row.si if system == "SI" else row.us)] for row in compared.inputs]
        print_wide_table(["", *compared.labels], rows, words=frozenset(range(len(compared.labels) + 1)))
    heading("What came out")
    head = ["", *compared.labels, *(f"{label} less {compared.labels[0]}" for label in compared.labels[1:])]
    if len(compared.labels) == 2:
        head[-1] = "difference"
    body = []
    for row in compared.answers:
        kind = row.output.dimension
        step = "temperature difference" if kind == "temperature" else kind
        cells = [shown(value, kind, system) for value in row.values]
        if not every and (not row.differs or len(set(cells)) == 1):
            continue
        gaps = [_signed(value, step, system) for value in row.differences[1:]]
        body.append([row.output.name, *cells, *gaps])
    if body:
        print_wide_table(head, body, words=frozenset({0}))
    else:
        paragraph("The same.")


def _signed(value: float | None, dimension: str, system: System) -> str:
    from simulator.answers.outputs import shown

    if value is None:
        return "-"
    text = shown(abs(value), dimension, system)
    return f"{'+' if value >= 0.0 else '-'}{text}"
