"""The timetable of a case as `check` tells it: what holds from when on, and loads of fuel."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from math import isnan
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.case.timetable import Drive
    from simulator.case.units import System

__all__ = ["loads", "print_switches", "setting_data", "switches"]

MOST_SWITCHES = 40
KELVIN_AT_0_DEGC = 273.15


def switches(case: Case) -> Iterator[tuple[datetime, Drive]]:
    """List what holds from the start and from every switch on."""
    timetable = case.timetable_compiled
    for tick in (0, *timetable.switches()):
        yield case.site.start + timedelta(milliseconds=tick), timetable.values_from(tick)


def loads(case: Case) -> list[tuple[datetime, float]]:
    """List when which mass of fuel [kg] is laid on."""
    return [
        (case.site.start + timedelta(milliseconds=tick), mass) for tick, mass in case.timetable_compiled.loads
    ]


def setting_data(moment: datetime, drive: Drive) -> dict[str, object]:
    """Tell one row of the timetable to other programs."""
    return {
        "at": moment,
        "fan_share": drive.fan_share,
        "heat_power_W": drive.heat_power,
        "supply_temperature_degC": drive.supply_temperature - KELVIN_AT_0_DEGC,
        "supply_as_in_file": drive.follows_series,
        "feed_share": drive.feed,
        "pump_share": drive.pump,
        "cover_share": drive.cover,
    }


def print_switches(case: Case, system: System) -> None:
    """Print the timetable with a column for each thing that the case can switch, and the loads."""
    from simulator.case.units import show
    from simulator.cli.screen import heading, table

    heading("Timetable")
    parts = _parts(case)
    listed = list(switches(case))
    table(
        ("from", *parts),
        [
            (f"{moment:%Y-%m-%d %H:%M}", *(_said(part, drive, system) for part in parts))
            for moment, drive in listed[:MOST_SWITCHES]
        ],
    )
    _more(len(listed), listed[-1][0])
    if case.controls is not None:
        typer.echo("  While a rule of [controls] is engaged, it goes before this.")
    laid_on = loads(case)
    if laid_on:
        heading("Loads of fuel")
        table(
            ("at", "load"),
            [
                (f"{moment:%Y-%m-%d %H:%M}", show(mass, "mass", system))
                for moment, mass in laid_on[:MOST_SWITCHES]
            ],
        )
        _more(len(laid_on), laid_on[-1][0])
        total = show(sum(mass for _, mass in laid_on), "mass", system)
        typer.echo(f"  in all {total} in {len(laid_on)} load{'s' if len(laid_on) > 1 else ''}")


def _parts(case: Case) -> tuple[str, ...]:
    """Names of what there is to switch."""
    heat = () if case.heat.kind == "stove" else ("heat",)
    feed = ("feed",) if case.stove is not None and case.stove.burn == "steady" else ()
    pump = ("pump",) if case.water is not None else ()
    cover = ("cover",) if case.room.kind == "house" and case.room.has_cover else ()
    return ("fan", *heat, *feed, *pump, *cover)


def _said(part: str, drive: Drive, system: System) -> str:
    from simulator.case.units import show

    if part != "heat":
        share = drive.fan_share if part == "fan" else float(getattr(drive, part))
        return "off" if share == 0.0 else "on" if share == 1.0 else f"{share:.0%}"
    if drive.follows_series:
        return "air as in the file"
    if isnan(drive.heat_power):
        return f"air at {show(drive.supply_temperature, 'temperature', system)}"
    return show(drive.heat_power, "power", system) if drive.heat_power else "off"


def _more(count: int, last: datetime) -> None:
    if count > MOST_SWITCHES:
        typer.echo(f"  and {count - MOST_SWITCHES} more, until {last:%Y-%m-%d %H:%M}")
