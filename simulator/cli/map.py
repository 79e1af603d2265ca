"""`ductfloor map`: pictures of one moment: ground, floor, a branch, fan and ducts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from datetime import datetime

    from matplotlib.figure import Figure

    from simulator.store.reader import Results

__all__ = ["draw_map"]


@guarded
def draw_map(
    results_file: Annotated[Path, typer.Argument(metavar="RESULTS", help="Results file of a run.")],
    plan: Annotated[
        bool, typer.Option("--plan/--section", help="The floor from above, or the ground across it.")
    ] = False,
    branch: Annotated[
        str | None,
        typer.Option(help="Air and wall along a branch instead, by its number from 1 or its name."),
    ] = None,
    fan: Annotated[
        bool, typer.Option("--fan", help="Pressure over flow of fan and ducts instead, and where they meet.")
    ] = False,
    flue: Annotated[
        bool, typer.Option("--flue", help="The flue run over time instead: gas, walls and draught.")
    ] = False,
    station: Annotated[
        str | None,
        typer.Option(help='Where to cut: a station from 1 at the floor\'s start, or a distance like "3 m".'),
    ] = None,
    time: Annotated[
        list[str] | None,
        typer.Option(
            help='When: "2031-01-16 06:00", "06:00" or "+6 h" after the start; with --branch up to seven '
            "times, with --flue begin and end. Left out: the end; with --flue the last day."
        ),
    ] = None,
    depth: Annotated[
        str | None, typer.Option(help='How far down a section reaches, such as "2 m"; "all" for everything.')
    ] = None,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units that come first.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Picture to write, .png or .svg.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the file written as JSON.")] = False,
) -> None:
    """Draw a map of the temperatures at one moment, or charts of a branch or of the fan."""
    from simulator.cli.moments import moment_typed
    from simulator.cli.screen import print_written
    from simulator.errors import DuctfloorError
    from simulator.look.save import save
    from simulator.store.reader import Results

    kind = _kind(plan, branch, fan, flue)
    if kind != "section" and (station is not None or depth is not None):
        flag = "--" + kind.split("-")[0]
        told = f"--station and --depth belong to a section; leave them out, or leave out {flag}"
        raise DuctfloorError(told)
    if branch is None and time is not None and len(time) > (2 if flue else 1):
        most = "once or twice" if flue else "once; only --branch draws several times"
        raise DuctfloorError(f"--time: give it {most}")
    with Results(results_file) as results:
        times = [moment_typed(results, text, "--time") for text in time or []]
        if branch is not None:
            from simulator.look.branch_profile import branch_profile_chart

            figure = branch_profile_chart(results, times or (-1,), branch=branch, units=units)
        elif flue:
            from simulator.look.flue_chart import flue_chart

            figure = flue_chart(results, *_begin_and_end(results, times), units=units)
        else:
            figure = _of_one_moment(results, kind, times[0] if times else -1, (station, depth), units)
    target = out or Path(f"{results_file.stem}-{_name_of(kind)}.png")
    save(figure, target)
    print_written(target, json)


def _name_of(kind: str) -> str:
    """Last part of the picture's name; none that `run` gives, whose pictures stay as they are."""
    return f"map-{kind}" if kind in ("section", "plan", "flue") else kind


def _kind(plan: bool, branch: str | None, fan: bool, flue: bool) -> str:
    """Name of the picture asked for."""
    from simulator.errors import DuctfloorError

    if plan + (branch is not None) + fan + flue > 1:
        raise DuctfloorError("--plan, --branch, --fan and --flue are pictures of their own; give one of them")
    if branch is not None:
        plain = "".join(letter if letter.isalnum() else "-" for letter in branch.strip())
        return f"branch-{plain.removeprefix('branch-') or 'x'}"
    return "plan" if plan else "fan" if fan else "flue" if flue else "section"


def _begin_and_end(results: Results, times: list[datetime]) -> tuple[datetime | int, datetime | int]:
    """Moments typed, or else the last day of the run."""
    from datetime import timedelta

    if len(times) == 2:
        return times[0], times[1]
    if times:
        return times[0], -1
    end = results.start + timedelta(seconds=float(results.read("time", -1)))
    return max(results.start, end - timedelta(days=1)), -1


def _of_one_moment(
    results: Results,
    kind: str,
    when: datetime | int,
    cut: tuple[str | None, str | None],
    units: Literal["SI", "US"] | None,
) -> Figure:
    from simulator.cli.moments import length_typed, station_typed

    if kind == "plan":
        from simulator.look.maps import plan_map

        return plan_map(results, when, units=units)
    if kind == "fan":
        from simulator.look.fan_picture import fan_picture_of_results

        return fan_picture_of_results(results, when, units=units)
    from simulator.look.maps import section_map

    station, depth = cut
    whole = depth is not None and depth.strip().lower() == "all"
    reach = None if whole or depth is None else length_typed(depth, "--depth")
    where = _middle(results) if station is None else station_typed(results, station)
    return section_map(results, where, when, depth=reach, whole=whole, units=units)


def _middle(results: Results) -> int:
    return int(results["station"].values.size) // 2
