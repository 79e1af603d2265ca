"""`ductfloor check`: what a case file means, without running it; on request, what upsets bring it to."""

from __future__ import annotations

from dataclasses import fields
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.case.inputs import Input
    from simulator.case.schema import Case

__all__ = ["check"]


@guarded
def check(
    case_file: Annotated[Path, typer.Argument(metavar="CASE", help="Case file.")],
    json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")] = False,
    draw: Annotated[
        Path | None,
        typer.Option(metavar="PICTURE", help="Draw plan and section of what was understood, .png or .svg."),
    ] = None,
    draw_fan: Annotated[
        Path | None,
        typer.Option(metavar="PICTURE", help="Draw pressure over flow of fan and ducts."),
    ] = None,
    upsets: Annotated[
        bool,
        typer.Option(
            "--upsets", help="Try the standard upsets instead: run the case with each, and write nothing."
        ),
    ] = False,
) -> None:
    """Say whether a case file is sound and what would be simulated; run nothing but upsets asked for."""
    from simulator.case.loader import load

    case = load(case_file)
    # Loaded only now, so that a slip in the case is told at once.
    from simulator.answers.cautions import judge, peaks_of_case
    from simulator.case.inputs import inputs
    from simulator.cli.screen import heading, print_advice, print_cautions, print_json, rows, system_named
    from simulator.cli.switches_told import loads, print_switches, setting_data, switches
    from simulator.cli.upsets_told import print_upsets, tried
    from simulator.run.describe import describe

    plan = describe(case)
    understood = list(inputs(case))
    found = judge(peaks_of_case(case), case.ducts.service_temperature)
    system = system_named(None, case.output.units)
    written = _pictures(case, draw, draw_fan)
    trials = tried(case, case_file.stem) if upsets else None
    if json:
        print_json(
            {
                "case": str(case_file),
                "inputs": {
                    f"{item.table}.{item.key}".lstrip("."): {
                        "value": item.value, "si": item.si, "us": item.us, "origin": item.origin,
                    }
                    for item in understood
                },
                "switches": [setting_data(moment, drive) for moment, drive in switches(case)],
                "loads": [{"at": moment, "mass_kg": mass} for moment, mass in loads(case)],
                "plan": plan,
                "cautions": [caution.as_dict() for caution in found],
                **({} if trials is None else {"upsets": trials.as_dict()}),
            }
        )  # fmt: skip
        return
    typer.echo(f"{case_file} is sound.")
    if trials is not None:
        print_upsets(trials, system)
    else:
        for table, listed in groupby(understood, key=lambda item: item.table):
            if table:
                heading(_header(table))
            rows((item.key, _in_words(item)) for item in listed)
        print_switches(case, system)
        heading("To be simulated")
        rows(_plan_rows(plan))
    print_cautions(found, system)
    print_advice(in_full=True)
    if written:
        typer.echo(f"\nwrote {', '.join(map(str, written))}")


def _pictures(case: Case, draw: Path | None, draw_fan: Path | None) -> list[Path]:
    """Draw what was asked for; return what was written."""
    written: list[Path] = []
    if draw is None and draw_fan is None:
        return written
    # Drawing is slow to load.
    from simulator.look.save import save

    if draw is not None:
        from simulator.look.case_picture import case_picture

        written.append(save(case_picture(case), draw))
    if draw_fan is not None:
        from simulator.look.fan_picture import fan_picture

        written.append(save(fan_picture(case), draw_fan))
    return written


def _header(table: str) -> str:
    """Write a table's name as the case file does; `coils[2]` is the second of a list of tables."""
    name, _, number = table.rstrip("]").partition("[")
    return f"[[{name}]], number {number}" if number else f"[{name}]"


def _in_words(item: Input) -> str:
    both = item.si if item.si == item.us else f"{item.si} ({item.us})"
    return both if item.origin == "given" else f"{both}, {item.origin}"


def _plan_rows(plan: Any) -> list[tuple[str, str]]:
    return [(field.name.replace("_", " "), _plan_text(getattr(plan, field.name))) for field in fields(plan)]


def _plan_text(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool):
        return f"{value:,}".replace(",", " ")
    return f"{value:.3g}" if isinstance(value, float) else str(value)
