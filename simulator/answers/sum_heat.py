"""Rates of heat and what they add up to, and shares of heat: the sums in which kW and kWh are mixed up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from simulator.answers.measured import Measured, propagate
from simulator.answers.sum_inputs import (
    Input,
    Names,
    above_zero,
    fraction,
    one_blank,
    quantity,
    rate_given,
)
from simulator.answers.sum_table import Quantity, Sum
from simulator.case.rates import rate_or_amount
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["heat_sum", "share_sum"]

POWER: Final = ("power",)


def heat_sum(
    *,
    rate: Input = None,
    amount: Input = None,
    duration: Input = None,
    rate_within: float | str | None = None,
    amount_within: float | str | None = None,
    duration_within: float | str | None = None,
    names: Names | None = None,
) -> Sum:
    """Solve for a rate of heat, the amount that it adds up to, or the time for which it lasts.

    Parameters
    ----------
    rate, amount, duration : float or str or Measured, optional
        In SI (W, J, s), or a text with its unit. Exactly one stays blank.
    rate_within, amount_within, duration_within : float or str, optional
        How far each may be off either way.
    names : Names, optional
        How keys are called in messages.

    Returns
    -------
    Sum

    Raises
    ------
    CaseError
    """
    called = names or Names()
    given = {
        "rate": _of_kind(rate, "power", "rate", called, rate_within),
        "amount": _of_kind(amount, "energy", "amount", called, amount_within),
        "duration": quantity(duration, "time", "duration", called, duration_within, "duration_within"),
    }
    blank = one_blank(dict(given), called)
    above_zero(called, given)

    def solved(values: Mapping[str, float]) -> float:
        if blank == "rate":
            return values["amount"] / values["duration"]
        if blank == "amount":
            return values["rate"] * values["duration"]
        return values["amount"] / values["rate"]

    inputs = {name: found for name, found in given.items() if found is not None}
    answer, shares = propagate(solved, inputs)
    found = {**inputs, blank: answer}
    rows = (
        Quantity("rate", "Rate of heat", found["rate"], "power", blank == "rate"),
        Quantity("duration", "Time", found["duration"], "time", blank == "duration"),
        Quantity("amount", "Amount of heat", found["amount"], "energy", blank == "amount"),
    )
    return Sum("Rate and amount of heat", rows, (), shares)


def share_sum(
    *,
    part: Input = None,
    whole: Input = None,
    share: float | str | None = None,
    duration: Input = None,
    part_within: float | str | None = None,
    whole_within: float | str | None = None,
    share_within: float | str | None = None,
    names: Names | None = None,
) -> Sum:
    """Solve for what share one heat is of another one, or for either of the two.

    Parameters
    ----------
    part, whole : float or str or Measured, optional
        Both rates (numbers are W) or both amounts; with a `duration` they may be mixed.
    share : float or str, optional
    duration : float or str, optional
        Time in which an amount moves.
    part_within, whole_within, share_within : float or str, optional
        How far each may be off either way.
    names : Names, optional
        How keys are called in messages.

    Returns
    -------
    Sum

    Raises
    ------
    CaseError
        Also when a rate is held against an amount.
    """
    called = names or Names()
    blank = one_blank({"part": part, "whole": whole, "share": share}, called)
    time = quantity(duration, "time", "duration", called)
    heats: dict[str, Measured] = {}
    dimension = "power"
    typed = {
        name: rate_or_amount(value, POWER, key=called[name]).dimension
        for name, value in (("part", part), ("whole", whole))
        if isinstance(value, str)
    }
    if set(typed.values()) == {"energy"} and time is None:
        dimension = "energy"
    elif len(set(typed.values())) == 2 and time is None:
        name = next(key for key, kind in typed.items() if kind == "energy")
        raise CaseError(
            "is an amount of heat and the other one is a rate; they cannot be compared",
            key=called[name], value={"part": part, "whole": whole}[name],
            fix=f"give two rates (kW, BTU/h), two amounts (kWh, BTU), or the time with {called['duration']}",
        )  # fmt: skip
    for name, value, off in (("part", part, part_within), ("whole", whole, whole_within)):
        if dimension == "energy":
            found = quantity(value, "energy", name, called, off, f"{name}_within")
        else:
            read = rate_given(value, POWER, name, called, time, off, f"{name}_within")
            found = None if read is None else read[0]
        if found is not None:
            heats[name] = found
    if share is not None:
        heats["share"] = fraction(share, "share", called, off=share_within)
    above_zero(called, heats)

    def solved(values: Mapping[str, float]) -> float:
        if blank == "share":
            return values["part"] / values["whole"]
        if blank == "part":
            return values["whole"] * values["share"]
        return values["part"] / values["share"]

    answer, shares = propagate(solved, heats)
    found_all = {**heats, blank: answer}
    rows = (
        Quantity("part", "Part", found_all["part"], dimension, blank == "part"),
        Quantity("whole", "Whole", found_all["whole"], dimension, blank == "whole"),
        Quantity("share", "Share", found_all["share"], "share", blank == "share"),
    )
    notes: tuple[str, ...] = ()
    if blank == "share" and answer.value > 1.0:
        notes = ("The part is more than the whole: a number is off, or a rate stands for an amount.",)
    return Sum("Share of heat", rows, notes, shares)


def _of_kind(
    value: Input, dimension: str, key: str, names: Names, off: float | str | None
) -> Measured | None:
    """Read a rate or an amount of heat, and say so when it is the other one."""
    if isinstance(value, str):
        typed = rate_or_amount(value, POWER, key=names[key])
        if typed.dimension != dimension:
            other = "a rate of heat" if typed.dimension == "power" else "an amount of heat"
            wanted = (
                "an amount is meant (kWh, MJ, BTU)"
                if dimension == "energy"
                else "a rate is meant (kW, BTU/h)"
            )
            swapped = names["rate" if key == "amount" else "amount"]
            raise CaseError(
                f"is {other}, but here {wanted}", key=names[key], value=value, fix=f"give it as {swapped}"
            )
    return quantity(value, dimension, key, names, off, f"{key}_within")
