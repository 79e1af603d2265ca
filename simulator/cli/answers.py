"""How the answers about a night are put on the screen, or handed to other programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

from simulator.cli.screen import heading, one_line, rows, table

if TYPE_CHECKING:
    from simulator.answers.cautions import Caution
    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.answers.overnight import Overnight
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["answers_as_data", "print_answers"]

KELVIN_AT_0_DEGC = 273.15
CHAIN = "Fire, tank and house"


def print_answers(results: Results, night: Overnight, system: System) -> None:
    """Print temperatures and heat of a night, and the heat of the whole run."""
    from simulator.answers.assurance import assurance
    from simulator.case.units import show

    def shown(celsius: float | None) -> str:
        return "no flow" if celsius is None else show(celsius + KELVIN_AT_0_DEGC, "temperature", system)

    typer.echo(one_line(str(results.attrs["title"])))
    if not results.complete:
        typer.echo("this run did not come to its end")
    typer.echo(night.window.describe())
    heading("Temperatures")
    table(
        ("", "lowest", "reached", "at the end"),
        [
            (
                name.replace("_", " "),
                shown(None if low is None else low.temperature),
                "-" if low is None else f"{low.at:%Y-%m-%d %H:%M}",
                shown(night.at_end[name]),
            )
            for name, low in night.lows.items()
        ],
    )
    heading("Heat in this time")
    rows(night.heat.as_rows(system))
    if night.heat != night.heat_of_run:
        heading("Heat in the whole run")
        rows(night.heat_of_run.as_rows(system))
    for title, part in _parts(results, night).items():
        if part is not None:
            heading(f"{getattr(part, 'title', title)} in this time")
            rows(part.as_rows(system))
        if title == CHAIN and night.heat != night.heat_of_run:
            _print_whole_chain(results, system)
    lines = assurance(results.summary)
    if lines:
        heading("How it was computed")
        rows(lines)


def _print_whole_chain(results: Results, system: System) -> None:
    """Print where the heat of all fuel went, and what tank and house did, over the whole run."""
    from simulator.answers.chain_account import chain_account

    times = results["time"].values
    account = chain_account(results, float(times[0]), float(times[-1]))
    if account is not None:
        heading(f"{account.title} in the whole run")
        rows(account.as_rows(system))


def _parts(results: Results, night: Overnight) -> dict[str, Any]:
    """Sum up fire, tank and house, fan, moisture and flue run; None for what a run does not have."""
    from simulator.answers.chain_account import chain_account
    from simulator.answers.flow import air_flow
    from simulator.answers.flue import flue_run
    from simulator.answers.moisture import duct_moisture

    begin, end = ((at - results.start).total_seconds() for at in (night.window.begin, night.window.end))
    return {
        CHAIN: chain_account(results, begin, end),
        "Air": air_flow(results, begin, end),
        "Moisture in the ducts": duct_moisture(results, begin, end),
        "Flue run": flue_run(results, begin, end),
    }


def answers_as_data(
    results: Results, night: Overnight, found: Sequence[Caution | Finding | Alarm]
) -> dict[str, Any]:
    """Gather what `--json` prints."""
    from simulator.answers.cautions import STANDING
    from simulator.answers.chain_account import chain_account

    parts = {title.lower(): part for title, part in _parts(results, night).items()}
    times = results["time"].values
    whole = chain_account(results, float(times[0]), float(times[-1]))
    return {
        "title": results.attrs["title"],
        "case": results.attrs["case_name"],
        "program_version": results.attrs["program_version"],
        "complete": results.complete,
        "overnight": night.as_dict(),
        **{name: None if part is None else part.as_dict() for name, part in parts.items()},
        f"{CHAIN.lower()} of run": None if whole is None else whole.as_dict(),
        "summary": results.summary,
        "cautions": [caution.as_dict() for caution in found],
        "standing_cautions": {advice.name: advice.message for advice in STANDING},
    }
