"""`ductfloor map`: a picture of the ground across the floor, or of the floor from above."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["draw_map"]


@guarded
def draw_map(
    results_file: Annotated[Path, typer.Argument(metavar="RESULTS", help="Results file of a run.")],
    plan: Annotated[
        bool, typer.Option("--plan/--section", help="The floor from above, or the ground across it.")
    ] = False,
    station: Annotated[
        str | None,
        typer.Option(help='Where to cut: a station from 1 at the floor\'s start, or a distance like "3 m".'),
    ] = None,
    time: Annotated[
        str | None,
        typer.Option(help='When: "2031-01-16 06:00", "06:00" or "+6 h" after the start. Left out: the end.'),
    ] = None,
    depth: Annotated[
        str | None, typer.Option(help='How far down a section reaches, such as "2 m"; "all" for everything.')
    ] = None,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units that come first.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Picture to write, .png or .svg.")] = None,
) -> None:
    """Draw a map of the temperatures at one moment."""
    from simulator.cli.moments import length_typed, moment_typed, station_typed
    from simulator.errors import DuctfloorError
    from simulator.look.maps import plan_map, section_map
    from simulator.look.save import save
    from simulator.store.reader import Results

    if plan and (station is not None or depth is not None):
        raise DuctfloorError("--station and --depth belong to a section; leave them out, or leave out --plan")
    with Results(results_file) as results:
        when = -1 if time is None else moment_typed(results, time, "--time")
        if plan:
            figure = plan_map(results, when, units=units)
        else:
            whole = depth is not None and depth.strip().lower() == "all"
            reach = None if whole or depth is None else length_typed(depth, "--depth")
            where = _middle(results) if station is None else station_typed(results, station)
            figure = section_map(results, where, when, depth=reach, whole=whole, units=units)
    target = out or Path(f"{results_file.stem}-{'plan' if plan else 'section'}.png")
    save(figure, target)
    typer.echo(f"wrote {target}")


def _middle(results: Results) -> int:
    return int(results["station"].values.size) // 2
