"""The sentences and tables of a report."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from markupsafe import Markup

from simulator.answers.assurance import assurance
from simulator.look.report.numbers import Number, in_both, pretty, said

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from simulator.answers.cautions import Caution
    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.answers.overnight import Overnight
    from simulator.look.report.book import Book

__all__ = ["Told", "accounts", "assurance_texts", "caution_texts", "courses_table", "headline", "lows_table"]

_LOWS: Final = {
    "room": ("Room air", "room_temperature"),
    "floor_mean": ("Floor surface, mean", "floor_mean_temperature"),
    "floor_coldest_place": ("Floor surface, coldest place", "floor_lowest_temperature"),
    "exit_air": ("Air leaving the ducts", "exit_temperature"),
    "outside": ("Outside air", "outside_temperature"),
}
_COLUMNS: Final = (
    ("outside", "outside_temperature"),
    ("room", "room_temperature"),
    ("floor, mean", "floor_mean_temperature"),
    ("floor, coldest", "floor_lowest_temperature"),
    ("air into the ducts", "supply_temperature"),
    ("air out of the ducts", "exit_temperature"),
)
MOST_ROWS: Final = 16


@dataclass(frozen=True)
class Told:
    """A caution as the page shows it."""

    severity: str
    text: Markup
    source: str


def headline(book: Book, night: Overnight, found: Sequence[Caution | Finding | Alarm]) -> Markup:
    """Give the answer in one or two sentences."""
    room, floor, outside = (_low(book, night, name) for name in ("room", "floor_mean", "outside"))
    parts: list[str | Number | Markup] = []
    if room is not None and floor is not None and outside is not None:
        room_low = night.lows["room"]
        at = f" at {room_low.at:%H:%M}" if room_low is not None else ""
        when = "In this night" if book.window.night is not None else "In this time"
        parts += [f"{when} the room falls to ", room, f"{at} and the floor to ", floor, ", with ", outside,
                  " outside. "]  # fmt: skip
    heat = night.heat
    into = book.number(heat.air_to_ground, "ledger_duct", "rises")
    back = book.number(heat.ground_to_air, "ledger_duct", "falls")
    up = book.change("ledger_floor")
    if heat.air_to_ground > 0.0:
        parts += ["The duct air puts ", into, " into the ground"]
        if heat.ground_to_air > 0.0:
            parts += [" and fetches ", back, " out of it"]
        if heat.floor_to_room >= 0.0:
            parts += ["; ", up, " comes up through the floor."]
        else:
            parts += ["; ", replace(up, size_only=True), " goes from the room into the floor."]
    elif heat.ground_to_air > 0.0:
        parts += ["The duct air fetches ", back, " out of the ground; ", up, " comes up through the floor."]
    else:
        parts += ["No heat went through the ducts; ", up, " comes up through the floor."]
    dangers = sum(caution.limit.severity == "danger" for caution in found)
    if dangers:
        parts.append(
            Markup(' <a class="alarm" href="#cautions">{} below: read {} first.</a>').format(
                "A danger stands" if dangers == 1 else f"{dangers} dangers stand",
                "it" if dangers == 1 else "them",
            )
        )
    return said(parts)


def _low(book: Book, night: Overnight, name: str) -> Number | None:
    low = night.lows[name]
    if low is None:
        return None
    how = "lowest while air moves" if name == "exit_air" else "lowest"
    return book.number(low.temperature, _LOWS[name][1], how)  # type: ignore[arg-type]


def lows_table(book: Book, night: Overnight) -> list[tuple[str, Number | str, str, Number | str, str]]:
    """List what, lowest, when, at the end, and the dataset."""
    rows: list[tuple[str, Number | str, str, Number | str, str]] = []
    for name, (label, dataset) in _LOWS.items():
        low, end = night.lows[name], night.at_end[name]
        number = _low(book, night, name)
        rows.append(
            (
                label,
                "no flow" if number is None else number,
                "" if low is None else f"{low.at.day} {low.at:%b %H:%M}",
                "no flow" if end is None else book.at(dataset, book.end),
                dataset,
            )
        )
    if "tank_temperature" in book.results:
        course = book.course("tank_temperature")
        inside = book.seconds[(book.seconds > book.begin) & (book.seconds < book.end)]
        moments = np.concatenate(([book.begin], inside, [book.end]))
        values = np.interp(moments, book.seconds, course)
        row = int(np.argmin(values))
        at = book.moment(float(moments[row]))
        low_number = book.number(float(values[row]), "tank_temperature", "lowest")
        end_number = book.at("tank_temperature", book.end)
        rows.append(
            ("Water in the tank", low_number, f"{at.day} {at:%b %H:%M}", end_number, "tank_temperature")
        )
    return rows


def courses_table(book: Book) -> tuple[list[str], list[tuple[str, list[Number | str]]]]:
    """Read temperatures at rows spread over the window; heads, then (moment, cells)."""
    seconds = book.seconds[(book.seconds >= book.begin - 1e-6) & (book.seconds <= book.end + 1e-6)]
    step = max(-(-seconds.size // MOST_ROWS), 1)
    if seconds.size > 1:
        hour = max(round(3600.0 / float(seconds[1] - seconds[0])), 1)
        step = max(step, min(hour, seconds.size - 1)) if step <= hour else -(-step // hour) * hour
    chosen = seconds[:: step or 1].tolist()
    if chosen and chosen[-1] != seconds[-1]:
        chosen.append(float(seconds[-1]))
    body = []
    for moment in chosen:
        moves = float(book.at("mass_flow", moment).value) > 0.0
        cells: list[Number | str] = [
            book.at(dataset, moment)
            if moves or dataset not in {"supply_temperature", "exit_temperature"}
            else "no flow"
            for _, dataset in _COLUMNS
        ]
        body.append((book.said(moment), cells))
    return [name for name, _ in _COLUMNS], body


def accounts(book: Book) -> list[tuple[str, Number]]:
    """List every account of the ledger over the window."""
    names = [name for name in book.results if name.startswith(("ledger_", "whole_"))]
    found = []
    for name in names:
        number = book.change(name)
        if number.value != 0.0 or name in {"ledger_heater", "ledger_duct", "ledger_floor"}:
            said_so = str(book.results[name].long_name)
            found.append((said_so.removesuffix(" since the start").replace(" so far", ""), number))
    return found


def assurance_texts(summary: Mapping[str, Any]) -> list[tuple[str, Markup]]:
    """Say how a run was computed and how well it holds, in both systems of units."""
    in_si, in_us = assurance(summary, "SI"), assurance(summary, "US")
    return [
        (label, in_both({"SI": pretty(si), "US": pretty(us)}.__getitem__))
        for (label, si), (_, us) in zip(in_si, in_us, strict=True)
    ]


def caution_texts(found: Sequence[Caution | Finding | Alarm]) -> list[Told]:
    """Write cautions in both systems of units."""
    return [
        Told(
            caution.limit.severity,
            in_both(lambda system, caution=caution: _capital(pretty(caution.text(system)))),  # type: ignore[misc]
            caution.limit.source,
        )
        for caution in found
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
