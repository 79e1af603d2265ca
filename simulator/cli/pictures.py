"""The pictures that `run` leaves beside its results."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.answers.window import Window
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["Kind", "kinds_of", "picture_path", "write_picture", "write_pictures"]

Kind = Literal["section", "plan", "night", "chain", "flue"]

#: Longer runs are drawn from this long before the night on.
SHORT_RUN: Final = timedelta(days=3)
EVE: Final = timedelta(hours=12)


def kinds_of(results: Results) -> list[Kind]:
    """Pictures that there are of some results, in the order of writing; no maps when they hold none."""
    kinds: list[Kind] = ["section", "plan"] if results.field_rows else []
    kinds.append("night")
    if "fan_setting" in results:
        kinds.append("chain")
    if "flue_mass_flow" in results:
        kinds.append("flue")
    return kinds


def picture_path(kind: Kind, stem: Path) -> Path:
    """Where one of the pictures is written."""
    return stem.with_name(f"{stem.name}-{kind}.png")


def write_pictures(results: Results, window: Window, stem: Path, system: System) -> list[Path]:
    """Write section and plan at the end of the night, and how the night, a heat chain and a flue run went.

    Parameters
    ----------
    results : Results
    window : Window
        The night.
    stem : Path
        Folder and name that the pictures' names begin with.
    system : {"SI", "US"}
        Units that come first.

    Returns
    -------
    list of Path
        Pictures written.
    """
    return [write_picture(kind, results, window, stem, system) for kind in kinds_of(results)]


def write_picture(kind: Kind, results: Results, window: Window, stem: Path, system: System) -> Path:
    """Write one of the pictures; parameters as those of `write_pictures`."""
    from simulator.cli.spared import spare_help_texts

    spare_help_texts()
    from simulator.look.save import save
    from simulator.look.theme import under_theme

    with under_theme():
        return save(_drawn(kind, results, window, system), picture_path(kind, stem))


def _drawn(kind: Kind, results: Results, window: Window, system: System) -> Figure:
    if kind in {"section", "plan"}:
        from simulator.look.maps import plan_map, section_map

        if kind == "plan":
            return plan_map(results, window.end, units=system)
        return section_map(results, int(results["station"].values.size) // 2, window.end, units=system)
    begin = _chart_begin(results, window)
    if kind == "chain":
        from simulator.look.chain_chart import chain_chart

        return chain_chart(results, begin, window.end, units=system)
    if kind == "flue":
        from simulator.look.flue_chart import flue_chart

        return flue_chart(results, begin, window.end, units=system)
    from simulator.look.charts import night_chart

    return night_chart(results, begin, window.end, units=system)


def _chart_begin(results: Results, window: Window) -> datetime:
    start = results.start
    return start if window.end - start <= SHORT_RUN else max(window.begin - EVE, start)
