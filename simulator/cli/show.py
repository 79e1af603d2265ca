"""`ductfloor show`: the answers out of a results file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from simulator.cli.guard import guarded

__all__ = ["show"]


@guarded
def show(
    results_file: Annotated[Path, typer.Argument(metavar="RESULTS", help="Results file of a run.")],
    night: Annotated[
        int | None, typer.Option(help="Which night, from 1; -1 is the last. Left out: the last.")
    ] = None,
    begin: Annotated[
        str | None,
        typer.Option("--from", help='Begin of the time to look at: "2031-01-15 18:00", "18:00" or "+6 h".'),
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", help="End of the time to look at, counted from its begin.")
    ] = None,
    flows: Annotated[
        Path | None,
        typer.Option(metavar="PICTURE", help="Draw the way of the heat in this time, .png or .svg."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is printed.")
    ] = None,
) -> None:
    """Say how a night of a run went."""
    from simulator.answers.cautions import cautions
    from simulator.answers.overnight import overnight
    from simulator.cli.answers import answers_as_data, print_answers
    from simulator.cli.moments import span_typed
    from simulator.cli.screen import print_advice, print_cautions, print_json, system_named
    from simulator.store.reader import Results

    with Results(results_file) as results:
        found = cautions(results)
        first, last = span_typed(results, begin, end)
        answer = overnight(results, begin=first, end=last, night=night)
        system = system_named(units, results.attrs["shown_in"])
        if flows is not None:
            from simulator.look.heat_flow_picture import heat_flow_picture_of_results
            from simulator.look.save import save

            window = answer.window
            save(heat_flow_picture_of_results(results, window.begin, window.end, units=system), flows)
        if json:
            files = {} if flows is None else {"files": [str(flows)]}
            print_json({**answers_as_data(results, answer, found), **files})
            return
        print_answers(results, answer, system)
        print_cautions(found, system)
        print_advice(in_full=False)
    if flows is not None:
        typer.echo(f"\nwrote {flows}")
