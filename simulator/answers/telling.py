"""A comparison in sentences: what stands out between the first run and another one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from simulator.answers.outputs import shown
from simulator.case.units import show

if TYPE_CHECKING:
    from simulator.answers.compare import Compared
    from simulator.case.units import System

__all__ = ["telling"]

CLEAR_SHARE: Final = 0.02
CLEAR_KELVIN: Final = 0.1
SAME_FIRE: Final = 0.01
"""Relative difference under which two runs are taken to burn the same."""


def telling(compared: Compared, other: int, system: System) -> list[str]:
    """Say what stands out between the first run and another one.

    Parameters
    ----------
    compared : Compared
    other : int
        Index of the other run, from 1.
    system : {"SI", "US"}

    Returns
    -------
    list of str
        Sentences; one that says so when nothing stands out.
    """
    sentences = [*_inputs(compared, other, system), *_heat(compared, other, system)]
    sentences += [*_dawn(compared, other, system), *_costs(compared, other, system)]
    return sentences or ["Nothing that matters differs."]


def _pair(compared: Compared, other: int, name: str) -> tuple[float, float] | None:
    values = compared.answer(name).values
    first, second = values[0], values[other]
    if isinstance(first, int | float) and isinstance(second, int | float):
        return float(first), float(second)
    return None


def _inputs(compared: Compared, other: int, system: System) -> Iterator[str]:
    if compared.inputs is None:
        return
    rows = [row for row in compared.inputs if row.si[0] != row.si[other]]
    if not rows:
        yield "Both were given the same."
    elif len(rows) <= 3:
        said = [
            f"{row.key} ({texts[0]} here, {texts[other]} there)"
            for row in rows
            for texts in [row.si if system == "SI" else row.us]
        ]
        yield f"What was put in differs in {_listed(said)}."
    else:
        yield f"What was put in differs in {len(rows)} keys."


def _heat(compared: Compared, other: int, system: System) -> Iterator[str]:
    a, b = compared.labels[0], compared.labels[other]
    heat, uptake = _pair(compared, other, "heat put in"), _pair(compared, other, "uptake")
    into, kept = _pair(compared, other, "heat into the floor"), _pair(compared, other, "kept")
    if heat is None:
        return
    same = abs(heat[1] - heat[0]) <= SAME_FIRE * max(abs(heat[0]), 1.0)
    given = [show(each, "energy", system) for each in heat]
    both = f"{given[0]} are put in with {a}, {given[1]} with {b}"
    if uptake is not None and into is not None and abs(uptake[1] - uptake[0]) >= CLEAR_SHARE:
        fuller = b if uptake[1] < uptake[0] else a
        shares = [shown(each, "share", system) for each in uptake]
        amounts = [show(each, "energy", system) for each in into]
        end = f": {fuller} takes the smaller share, its floor is nearer to full." if same else "."
        yield (
            f"{f'The same heat is put in, {given[0]}' if same else both}. The ground takes {shares[0]} of it "
            f"with {a} ({amounts[0]}) and {shares[1]} with {b} ({amounts[1]}){end}"
        )
    elif not same:
        yield f"{both}."
    if kept is not None and abs(kept[1] - kept[0]) >= CLEAR_SHARE:
        shares = [shown(each, "share", system) for each in kept]
        less = b if kept[1] < kept[0] else a
        yield (
            f"Of what went in, {shares[0]} is still in the ground at the end with {a}, {shares[1]} with {b}: "
            f"{less} gives more of it back."
        )


def _dawn(compared: Compared, other: int, system: System) -> Iterator[str]:
    b = compared.labels[other]
    said = []
    for name, what in (("room at the end", "the room"), ("floor at the end", "the floor"),
                       ("exit air at the end", "the air out of the ducts")):  # fmt: skip
        pair = _pair(compared, other, name)
        if pair is not None and abs(pair[1] - pair[0]) >= CLEAR_KELVIN:
            away = show(abs(pair[1] - pair[0]), "temperature difference", system)
            side = "warmer" if pair[1] > pair[0] else "colder"
            said.append(
                f"{what} {away} {side} ({show(pair[0], 'temperature', system)} against "
                f"{show(pair[1], 'temperature', system)})"
            )
    if said:
        yield f"At the end of the night {b} has {_listed(said)}."


def _costs(compared: Compared, other: int, system: System) -> Iterator[str]:
    a, b = compared.labels[0], compared.labels[other]
    power = _pair(compared, other, "fan electricity")
    if power is not None and abs(power[1] - power[0]) > 3.6e4:
        yield (
            f"The fan takes {shown(power[0], 'electricity', system)} with {a} and "
            f"{shown(power[1], 'electricity', system)} with {b}."
        )
    hot = _pair(compared, other, "hottest duct")
    if hot is not None and abs(hot[1] - hot[0]) >= 1.0:
        yield (
            f"The ducts reach {show(hot[0], 'temperature', system)} with {a} and "
            f"{show(hot[1], 'temperature', system)} with {b}."
        )
    dangers, worst = _pair(compared, other, "dangers"), compared.answer("worst caution").values
    if dangers is not None and dangers[0] != dangers[1]:
        label, name = (b, worst[other]) if dangers[1] > dangers[0] else (a, worst[0])
        yield (
            f"Only with {label} is a limit passed that protects people or pipes: {name}."
            if min(dangers) == 0
            else (f"{label} passes more limits that protect people or pipes, the gravest: {name}.")
        )


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
