"""Checks across the tables of the heat chain: stove, hood, coils, tank, house, rules and upsets."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterator, Sequence

from simulator.case.conditions import Condition
from simulator.case.explain import KeyPath, Problem
from simulator.case.schema import Case
from simulator.case.schema_run import Entry, Settings
from simulator.case.schema_site import CsvWeather, DailyWaveWeather

#: quantities of rules that a fire, or a tank, has to be there for
OF_THE_STOVE = frozenset({"hood", "shell", "flue"})
OF_THE_WATER = frozenset({"tank", "tank top", "tank bottom", "coil water"})
_FURTHEST_NOON = 4.0
"""Hours by which the sun's noon may lie off the clock's; the widest real one is a little over three."""


def check_chain(case: Case) -> Iterator[Problem]:
    """Find every problem; none when the tables fit together.

    Parameters
    ----------
    case : Case
        Every key is valid by itself.
    """
    yield from _parts(case)
    yield from _names(case)
    yield from _fire(case)
    yield from _settings(case)
    yield from _rules(case)
    yield from _upsets(case)
    yield from _house(case)


def _parts(case: Case) -> Iterator[Problem]:
    """Check that the parts that need each other are there."""
    stove, hood, water = case.stove, case.hood, case.water
    if case.heat.kind == "stove":
        if stove is None:
            yield Problem(("heat", "kind"), "needs a table [stove]", fix="give the stove that is meant")
        if hood is None:
            yield Problem(
                ("heat", "kind"),
                "needs a table [hood]",
                fix="give the hood that leads the air round the stove",
            )
    else:
        for name, part in (("stove", stove), ("hood", hood)):
            if part is not None:
                yield Problem(
                    (name,),
                    f'does nothing beside heat.kind = "{case.heat.kind}"',
                    fix='give heat.kind = "stove"',
                )
    if case.coils:
        if water is None:
            yield Problem(
                ("coils",), "need a table [water]", fix="give the tank and pump that the coils warm"
            )
        if case.heat.kind != "stove":
            yield Problem(
                ("coils",), f'find no hot air beside heat.kind = "{case.heat.kind}"',
                fix='give heat.kind = "stove"',
            )  # fmt: skip
    elif water is not None:
        yield Problem(
            ("water",), "is warmed by nothing: there are no [[coils]]",
            fix="give a coil; a tank that only stands in the house is one of room.masses",
        )  # fmt: skip
    if hood is not None:
        widest = 2.0 * math.sqrt(hood.cross_section / math.pi)
        if hood.hydraulic_diameter > widest * (1.0 + 1e-6):
            yield Problem(
                ("hood", "hydraulic_diameter"),
                f"is more than that of a round duct of the same cross_section, {widest:.3g} m",
                f"up to {widest:.3g} m",
                "it is 4 times the cross section over its wetted perimeter",
            )


def _names(case: Case) -> Iterator[Problem]:
    """Check that results can be told apart by their names."""
    listed: list[tuple[KeyPath, Sequence[str]]] = [(("coils",), [coil.name for coil in case.coils])]
    if case.room.kind == "house":
        listed.append((("room", "surfaces"), [surface.name for surface in case.room.surfaces]))
        listed.append((("room", "masses"), [mass.name for mass in case.room.masses]))
    for path, names in listed:
        seen: set[str] = set()
        for number, name in enumerate(names):
            if name and name in seen:
                yield Problem((*path, number, "name"), "is the name of another one before it")
            seen.add(name)


def _entries(case: Case) -> Iterator[tuple[KeyPath, Settings]]:
    table = case.timetable
    yield ("timetable", "start"), table.start
    for kind, entries in (("daily", table.daily), ("weekly", table.weekly), ("dated", table.dated)):
        for number, entry in enumerate(entries):
            yield ("timetable", kind, number), entry


def _fire(case: Case) -> Iterator[Problem]:
    """Check that what burns is laid on."""
    stove = case.stove
    if stove is None or stove.burn != "batches" or case.heat.kind != "stove":
        return
    entries = [entry for _, entry in _entries(case) if isinstance(entry, Entry)]
    if not any(entry.load is not None for entry in entries):
        yield Problem(
            ("stove", "burn") if "burn" in stove.model_fields_set else ("stove",),
            "finds no fuel: the timetable lays on no load",
            fix='give one, for example timetable.daily = [{ at = "18:00", load = "6 kg" }]',
        )


def _settings(case: Case) -> Iterator[Problem]:
    """Check that timetable entries switch only what is there."""
    needs = _needs(case)
    for path, entry in _entries(case):
        if getattr(entry, "load", None) is not None:
            if case.stove is None:
                yield Problem((*path, "load"), "finds no stove", fix="give a table [stove]")
            elif case.stove.burn == "steady":
                yield Problem(
                    (*path, "load"), 'does not fit stove.burn = "steady"',
                    fix='give feed = "on", or stove.burn = "batches"',
                )  # fmt: skip
        for key in ("feed", "pump", "cover"):
            if getattr(entry, key) is not None and (missing := needs[key]()) is not None:
                yield Problem((*path, key), *missing)


def _needs(case: Case) -> dict[str, Callable[[], tuple[str, None, str] | None]]:
    """For each switch: what is missing for it (problem, allowed, fix), or None."""

    def feed() -> tuple[str, None, str] | None:
        if case.stove is None:
            return "finds no stove", None, "give a table [stove]"
        if case.stove.burn == "batches":
            return 'does not fit stove.burn = "batches"', None, 'give load = "6 kg", or stove.burn = "steady"'
        return None

    def pump() -> tuple[str, None, str] | None:
        return None if case.water is not None else ("finds no pump", None, "give a table [water]")

    def cover() -> tuple[str, None, str] | None:
        if case.room.kind != "house":
            return "finds no night cover", None, 'it needs room.kind = "house"'
        if not case.room.has_cover:
            return "finds no night cover", None, 'give one of room.surfaces night_cover = "0.3 m2.K/W"'
        return None

    return {"fan": lambda: None, "feed": feed, "pump": pump, "cover": cover}


def _rules(case: Case) -> Iterator[Problem]:
    """Check that rules switch and look at what is there."""
    if case.controls is None:
        return
    needs = _needs(case)
    for number, rule in enumerate(case.controls.rules):
        path: KeyPath = ("controls", "rules", number)
        missing = needs[rule.switch]()
        if missing is not None:
            yield Problem((*path, "switch"), *missing)
        for key, condition in (("on_when", rule.on_when), ("off_when", rule.off_when)):
            if condition is not None:
                yield from _quantities(case, (*path, key), condition)


def _quantities(case: Case, path: KeyPath, condition: Condition) -> Iterator[Problem]:
    for name in condition.quantities:
        if name in OF_THE_STOVE and case.stove is None:
            yield Problem(path, f'looks at "{name}", but there is no stove', fix="give a table [stove]")
        if name in OF_THE_WATER and case.water is None:
            yield Problem(path, f'looks at "{name}", but there is no tank', fix="give a table [water]")


def _upsets(case: Case) -> Iterator[Problem]:
    """Check that upsets fall into the run and on what is there."""
    start, end = case.site.start, case.site.duration
    needs = _needs(case)
    for number, upset in enumerate(case.upsets):
        path: KeyPath = ("upsets", number)
        if not 0.0 <= (upset.at - start).total_seconds() < end:
            yield Problem(
                (*path, "at"),
                "lies outside the run",
                f"{start.isoformat()} to {(start + dt.timedelta(seconds=end)).isoformat()}",
            )
        missing = None
        if upset.kind == "pump stops":
            missing = needs["pump"]()
        elif upset.kind == "cover left off":
            missing = needs["cover"]()
        elif upset.kind == "fire over-fed" and case.stove is None:
            missing = ("finds no stove", None, "give a table [stove]")
        if missing is not None:
            yield Problem((*path, "kind"), *missing)


def _house(case: Case) -> Iterator[Problem]:
    """Check what sun and vapour need, and that place and clock belong together."""
    site = case.site
    if site.longitude is not None and site.time_zone is not None:
        hours = (site.longitude / 15.0 - site.time_zone + 12.0) % 24.0 - 12.0
        if abs(hours) > _FURTHEST_NOON:
            yield Problem(
                ("site", "longitude"),
                f"does not fit time_zone = {site.time_zone:g}: "
                f"the sun would stand highest {abs(hours):.1f} h off noon",
                fix="west of Greenwich both are negative",
            )
    if case.room.kind != "house":
        return
    for key in _place_needed(case):
        if getattr(site, key) is None:
            example = {"latitude": "46.5", "longitude": "-93.2", "time_zone": "-6"}[key]
            yield Problem(
                ("site", key),
                "is missing: sun on the surfaces of a house needs it",
                fix=f"for example {key} = {example}",
            )
    if case.moisture is None:
        for key, part in (("plants", case.room.plants), ("wet_soil", case.room.wet_soil)):
            if part is not None:
                yield Problem(
                    ("room", key), "gives off vapour, but there is no table [moisture]",
                    fix="give [moisture] with room_humidity = 0.7",
                )  # fmt: skip


def _place_needed(case: Case) -> tuple[str, ...]:
    """Keys of the site without which the sun's way is not known.

    A constant sun comes from everywhere, a file in the TMY3 format says where it was measured, and the hours
    of a daily wave are the sun's own.
    """
    if isinstance(case.weather, CsvWeather):
        return ("latitude", "longitude", "time_zone")
    if isinstance(case.weather, DailyWaveWeather) and case.weather.sun_peak > 0.0:
        return ("latitude",)
    return ()
