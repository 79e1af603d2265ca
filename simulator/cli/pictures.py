"""The pictures that `run` leaves beside its results."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulator.answers.window import Window
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["write_pictures"]


#: Longer runs are drawn from this long before the night on.
SHORT_RUN = timedelta(days=3)
EVE = timedelta(hours=12)


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
        Pictures written; without the maps when the results hold none.
    """
    from simulator.cli.spared import spare_help_texts

    spare_help_texts()
    from simulator.look.theme import under_theme

    with under_theme():
        return _written(results, window, stem, system)


def _written(results: Results, window: Window, stem: Path, system: System) -> list[Path]:
    from simulator.look.charts import night_chart
    from simulator.look.maps import plan_map, section_map
    from simulator.look.save import save

    def named(kind: str) -> Path:
        return stem.with_name(f"{stem.name}-{kind}.png")

    written = []
    if results.field_rows:
        middle = int(results["station"].values.size) // 2
        written.append(save(section_map(results, middle, window.end, units=system), named("section")))
        written.append(save(plan_map(results, window.end, units=system), named("plan")))
    begin = _chart_begin(results, window)
    written.append(save(night_chart(results, begin, window.end, units=system), named("night")))
    if "fan_setting" in results:
        from simulator.look.chain_chart import chain_chart

        written.append(save(chain_chart(results, begin, window.end, units=system), named("chain")))
    if "flue_mass_flow" in results:
        from simulator.look.flue_chart import flue_chart

        written.append(save(flue_chart(results, begin, window.end, units=system), named("flue")))
    return written


def _chart_begin(results: Results, window: Window) -> datetime:
    start = results.start
    return start if window.end - start <= SHORT_RUN else max(window.begin - EVE, start)
