"""`ductfloor run`: from a case file to results, answers and pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import guarded, note

if TYPE_CHECKING:
    from simulator.cli.drawn_beside import Drawer

__all__ = ["run"]


@guarded
def run(
    case_file: Annotated[Path, typer.Argument(metavar="CASE", help="Case file.")],
    out: Annotated[
        Path | None,
        typer.Option(help="Results file; pictures go beside it. Left out: CASE.h5 in this folder."),
    ] = None,
    pictures: Annotated[bool, typer.Option("--pictures/--no-pictures", help="Write pictures.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print the answers as JSON.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is printed.")
    ] = None,
    resume: Annotated[
        bool | None,
        typer.Option(
            "--resume/--no-resume",
            help="Go on with a run that was stopped, or start it anew. Left out: go on where it fits.",
            show_default=False,
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print dangers only.")] = False,
) -> None:
    """Simulate a case, store the results and say how the night goes."""
    from simulator.cli.drawn_beside import drawer

    with drawer(wanted=pictures) as drawn:
        _run(case_file, out, drawn if pictures else None, json=json, units=units, resume=resume, quiet=quiet)


def _run(
    case_file: Path,
    out: Path | None,
    drawn: Drawer | None,
    *,
    json: bool,
    units: Literal["SI", "US"] | None,
    resume: bool | None,
    quiet: bool,
) -> None:
    from simulator.cli.spared import loading, spare_tools

    with loading():
        from simulator.case.loader import load

        case = load(case_file)
        # Not before: two processes that load libraries hinder each other, and most slips are told by now.
        if drawn is not None:
            drawn.get_ready()
        # Loaded only now, so that a slip in the case is told at once.
        spare_tools()
        from simulator.answers.cautions import cautions
        from simulator.answers.overnight import overnight
        from simulator.cli.answers import answers_as_data, print_answers
        from simulator.cli.finished import finished
        from simulator.cli.first_time import told_if_first
        from simulator.cli.screen import print_advice, print_cautions, print_json, progress_bar, system_named
        from simulator.store.record import record

    target = out or Path(f"{case_file.stem}.h5")
    first_time = not target.exists()
    system = system_named(units, case.output.units)
    watched = not quiet
    with told_if_first(case, wanted=watched), progress_bar(case_file.stem, wanted=watched) as progress:
        results = record(case, target, progress=progress, resume=resume, say=note)
    with results, finished(target):
        night = overnight(results)
        if drawn is not None:
            drawn.begin(results, night.window, target.with_suffix(""), system)
        found = cautions(results)
        if not json and not quiet:
            print_answers(results, night, system)
        written = [target, *([] if drawn is None else drawn.finish())]
        if json:
            print_json({**answers_as_data(results, night, found), "files": [str(path) for path in written]})
            return
        if quiet:
            print_cautions([caution for caution in found if caution.limit.severity == "danger"], system)
            return
    print_cautions(found, system)
    print_advice(in_full=first_time)
    typer.echo()
    typer.echo("wrote " + ", ".join(str(path) for path in written))
