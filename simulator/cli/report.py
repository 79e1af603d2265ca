"""`ductfloor report`: one page about a run that opens anywhere."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.look.report.page import InputTable
    from simulator.store.reader import Results

__all__ = ["EXAMPLES", "report"]

EXAMPLES = """Examples:

  ductfloor report overnight.h5

  ductfloor report overnight.h5 -o shed.html --units SI

  ductfloor report winter.h5 --night 12
"""


@guarded
def report(
    results_file: Annotated[Path, typer.Argument(metavar="RESULTS", help="Results file of a run.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="Page to write. Left out: RESULTS.html in this folder."),
    ] = None,
    night: Annotated[
        int | None, typer.Option(help="Which night, from 1; -1 is the last. Left out: the last.")
    ] = None,
    begin: Annotated[
        str | None,
        typer.Option("--from", help='Begin of the time to tell of: "2031-01-15 18:00", "18:00" or "+6 h".'),
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", help="End of the time to tell of, counted from its begin.")
    ] = None,
    units: Annotated[
        Literal["SI", "US"] | None,
        typer.Option(case_sensitive=False, help="Units shown first; the page can change them."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print what was written as JSON.")] = False,
) -> None:
    """Write one page about a run: answer, cautions, heat, temperatures, maps, inputs; it needs no network."""
    from simulator.answers.overnight import overnight
    from simulator.cli.moments import span_typed
    from simulator.cli.screen import print_json, system_named
    from simulator.cli.writing import write_text
    from simulator.look.report.page import report_page
    from simulator.store.destination import readable_size
    from simulator.store.reader import Results

    target = out or Path(f"{results_file.stem}.html")
    with Results(results_file) as results:
        first, last = span_typed(results, begin, end)
        answer = overnight(results, begin=first, end=last, night=night)
        page = report_page(
            results,
            answer,
            units=system_named(units, results.attrs["shown_in"]),
            inputs=_inputs(results),
        )
    write_text(target, page, endings=(".html", ".htm"))
    if json:
        print_json({"file": str(target), "bytes": len(page.encode())})
        return
    typer.echo(f"wrote {target} ({readable_size(len(page.encode()))})")


def _inputs(results: Results) -> list[InputTable]:
    """Tables of the case as understood; none when the case cannot be read again."""
    from simulator.case.inputs import inputs
    from simulator.case.kept_text import case_of_text
    from simulator.errors import CaseError
    from simulator.look.report.page import InputRow, InputTable

    try:
        case = case_of_text(results.case_text)
    except CaseError:
        return []
    return [
        InputTable(name, [InputRow(item.key, item.si, item.us, item.origin) for item in listed])
        for name, listed in groupby(inputs(case), key=lambda item: item.table)
    ]
