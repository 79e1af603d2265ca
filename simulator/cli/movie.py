"""`ductfloor movie`: section and plan over time as moving pictures."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from simulator.cli.guard import guarded

__all__ = ["EXAMPLES", "movie"]

EXAMPLES = """Examples:

  ductfloor movie overnight.h5

  ductfloor movie overnight.h5 -o night.mp4 --from "18:00" --to "+21 h" --per-second 4

  ductfloor movie overnight.h5 --station "3 m" --units SI
"""


@guarded
def movie(
    results_file: Annotated[Path, typer.Argument(metavar="RESULTS", help="Results file of a run.")],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", "-o", help="Movie to write, .gif or .mp4. Left out: RESULTS.gif in this folder."
        ),
    ] = None,
    station: Annotated[
        str | None,
        typer.Option(help='Where to cut: a station from 1, or a distance like "3 m". Left out: the middle.'),
    ] = None,
    begin: Annotated[
        str | None, typer.Option("--from", help='First moment: "2031-01-15 18:00", "18:00" or "+6 h".')
    ] = None,
    end: Annotated[str | None, typer.Option("--to", help="Last moment, counted from the first.")] = None,
    per_second: Annotated[float, typer.Option(min=0.5, max=50.0, help="Maps for each second.")] = 6.0,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units that come first.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print what was written as JSON.")] = False,
) -> None:
    """Show section and plan over time as GIF, or as MP4 where ffmpeg is installed."""
    from simulator.cli.moments import span_typed, station_typed
    from simulator.cli.screen import print_json, progress_bar, system_named
    from simulator.look.movie import movie_of, save_movie
    from simulator.store.reader import Results

    target = out or Path(f"{results_file.stem}.gif")
    with Results(results_file) as results, progress_bar(target.name) as progress:
        first, last = span_typed(results, begin, end)
        made = movie_of(
            results,
            None if station is None else station_typed(results, station),
            0 if first is None else first,
            -1 if last is None else last,
            units=system_named(units, results.attrs["shown_in"]),
        )
        save_movie(made, target, per_second=per_second, progress=progress)
    if json:
        print_json({"file": str(target), "frames": made.count, "size": list(made.size)})
        return
    typer.echo(f"wrote {target}: {made.count} maps")
