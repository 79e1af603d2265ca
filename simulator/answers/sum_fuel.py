"""Fuel to heat: from its mass and burn time, or the mass, or the burn time, and who takes what share of it.

Lower heating value of the fuel as fired: dry (1 - w) - 2.443 MJ/kg w (ISO 18125), with w the water over the
whole. The default dry value of 18.8 MJ/kg is the usual one for wood and pellets.
"""

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
from simulator.case.rates import heat_per_mass, rate_or_amount
from simulator.errors import CaseError
from simulator.physics.combustion import WATER_HEAT, Fuel, lower_heating_value

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["fuel_sum"]

USUAL_MOISTURE: Final = 0.08
"""Of pellets; ISO 17225-2 allows 10 %."""
POWER: Final = ("power",)
_WRITTEN_OFF: Final = (
    "This is the lower heating value burnt out completely. A stove gives its room 60 to 90 % of it; the rest "
    "leaves by the flue (common practice, no source)."
)


def fuel_sum(
    *,
    mass: Input = None,
    duration: Input = None,
    heat: Input = None,
    moisture: float | str = USUAL_MOISTURE,
    heating_value: float | str = Fuel.dry_heating_value,
    efficiency: float | str | None = None,
    parts: Mapping[str, Input] | None = None,
    mass_within: float | str | None = None,
    duration_within: float | str | None = None,
    heat_within: float | str | None = None,
    moisture_within: float | str | None = None,
    heating_value_within: float | str | None = None,
    names: Names | None = None,
) -> Sum:
    """Solve for the heat of burning fuel, its mass or its burn time.

    Parameters
    ----------
    mass, duration, heat : float or str or Measured, optional
        In SI (kg, s, W), or a text with its unit. Exactly one of them stays blank; from the mass alone
        follows the amount of heat without its rate, and from the amount alone the mass. Heat is what is in
        the fuel, or with an `efficiency` what the stove gives; an amount needs the duration.
    moisture : float or str
        Water over mass as fired, 0 to 1 or per cent.
    heating_value : float or str
        Lower heating value of the dry fuel [J/kg].
    efficiency : float or str, optional
        Share of the fuel's heat that the stove gives to room, air and water.
    parts : mapping of str to float or str, optional
        Rates of heat, or amounts, by the name of what takes them; told as shares of the fuel.
    mass_within, duration_within, heat_within, moisture_within, heating_value_within : float or str, optional
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
    time = quantity(duration, "time", "duration", called, duration_within, "duration_within")
    weight = quantity(mass, "mass", "mass", called, mass_within, "mass_within")
    water = fraction(moisture, "moisture", called, off=moisture_within)
    dry = _heating_value(heating_value, called, heating_value_within)
    share = Measured(1.0) if efficiency is None else fraction(efficiency, "efficiency", called)
    if isinstance(heat, str) and time is None and weight is None:
        # The amount alone tells the mass, as the mass alone tells the amount.
        typed = rate_or_amount(heat, POWER, key=called["heat"])
        if typed.dimension == "energy":
            amount = quantity(heat, "energy", "heat", called, heat_within, "heat_within")
            return _fuel(called, None, None, None, water, dry, share, efficiency is not None, {}, amount)
    power = rate_given(heat, POWER, "heat", called, time, heat_within, "heat_within")
    given: dict[str, object] = {"mass": weight, "duration": time, "heat": power}
    if not (weight is not None and time is None and power is None):
        one_blank(given, called)
    above_zero(
        called, {"mass": weight, "duration": time, "heat": power[0] if power else None, "efficiency": share}
    )
    taken = _parts(parts or {}, called)
    return _fuel(
        called,
        weight,
        time,
        power[0] if power else None,
        water,
        dry,
        share,
        efficiency is not None,
        taken,
        None,
    )


def _fuel(
    names: Names,
    mass: Measured | None,
    time: Measured | None,
    power: Measured | None,
    water: Measured,
    dry: Measured,
    share: Measured,
    with_stove: bool,
    parts: Mapping[str, tuple[Measured, str]],
    amount: Measured | None,
) -> Sum:
    given = {"mass": mass, "duration": time, "heat": power, "amount": amount}
    inputs = {name: found for name, found in given.items() if found is not None}
    inputs |= {"moisture": water, "heating value": dry, "efficiency": share}
    try:
        lower_heating_value(dry.value, water.value)
    except ValueError as error:
        raise CaseError(
            str(error), key=names["moisture"], value=water.value, allowed="0 to about 0.85"
        ) from None

    def evaluate(values: Mapping[str, float]) -> dict[str, float]:
        fired = values["heating value"] * (1.0 - values["moisture"]) - WATER_HEAT * values["moisture"]
        found = {"fired value": fired}
        useful = fired * values["efficiency"]
        if "amount" in values:
            found["mass"] = values["amount"] / useful
        elif "mass" not in values:
            found["mass"] = values["heat"] * values["duration"] / useful
        else:
            found["mass"] = values["mass"]
        found["amount"] = found["mass"] * fired
        if "duration" in values:
            found["duration"] = values["duration"]
        elif "heat" in values:
            found["duration"] = found["mass"] * useful / values["heat"]
        if "duration" in found:
            found["heat"] = found["amount"] / found["duration"]
            found["rate"] = found["mass"] / found["duration"]
        if with_stove:
            found["stove amount"] = found["amount"] * values["efficiency"]
            if "heat" in found:
                found["stove heat"] = found["heat"] * values["efficiency"]
        for name in parts:
            whole = found["amount"] if parts[name][1] == "energy" else found.get("heat")
            if whole is not None:
                found[f"share of {name}"] = values[f"part {name}"] / whole
        return found

    inputs |= {f"part {name}": found for name, (found, _) in parts.items()}
    state = evaluate({name: found.value for name, found in inputs.items()})
    both = {name: propagate(lambda v, name=name: evaluate(v)[name], inputs) for name in state}  # type: ignore[misc]
    found = {name: measured for name, (measured, _) in both.items()}
    blank = (
        "mass"
        if mass is None
        else "amount"
        if time is None and power is None
        else "duration"
        if time is None
        else "heat"
    )
    rows = [
        Quantity("mass", "Fuel", found["mass"], "mass", blank == "mass"),
        Quantity("moisture", "Water in it", water, "share"),
        Quantity("heating_value", "Heating value as fired", found["fired value"], "energy per mass"),
        Quantity("amount", "Heat in it", found["amount"], "energy", blank == "amount"),
    ]
    if "duration" in found:
        rows += [
            Quantity("duration", "Burn time", found["duration"], "time", blank == "duration"),
            Quantity("rate", "Burning rate", found["rate"], "mass flow"),
            Quantity("heat", "Heat fired", found["heat"], "power", blank == "heat"),
        ]
    if with_stove:
        rows.append(Quantity("efficiency", "Share that the stove gives", share, "share"))
        if "stove heat" in found:
            rows.append(Quantity("stove_heat", "Heat from the stove", found["stove heat"], "power"))
        rows.append(Quantity("stove_amount", "Amount from the stove", found["stove amount"], "energy"))
    notes = [] if with_stove else [_WRITTEN_OFF]
    for name, (measured, dimension) in parts.items():
        key = f"share of {name}"
        if key not in found:
            raise CaseError(
                "is a rate, but the fuel has no burn time to compare it with", key=f"{names['parts']} {name}",
                fix=f"give {names['duration']}, or an amount",
            )  # fmt: skip
        rows.append(Quantity(f"part_{name}", f"To {name}", measured, dimension))
        rows.append(Quantity(f"share_{name}", f"Share of the fuel to {name}", found[key], "share"))
    if len(parts) > 0:
        total = sum(found[f"share of {name}"].value for name in parts)
        rows.append(
            Quantity("share_left", "Share left for flue and all else", Measured(1.0 - total), "share")
        )
        if total > 1.0:
            notes.append(
                "The parts take more than the fuel holds: a number is off, or a rate stands for an amount."
            )
    return Sum("Heat of fuel", tuple(rows), tuple(notes), dict(both[blank][1]))


def _heating_value(value: float | str, names: Names, off: float | str | None) -> Measured:
    if isinstance(value, str):
        try:
            # A heat per mass has the powers of a velocity squared, which no dimension of the case file has.
            number = heat_per_mass(value)
        except CaseError as error:
            raise CaseError(error.problem, key=names["heating_value"], value=value, fix=error.fix) from None
    else:
        number = float(value)
    if not 1e6 <= number <= 6e7:
        raise CaseError(
            "is outside its range", key=names["heating_value"], value=value,
            allowed="1 MJ/kg to 60 MJ/kg (430 to 26,000 BTU/lb)", fix="wood has 18.8 MJ/kg when dry",
        )  # fmt: skip
    if off is None:
        return Measured(number)
    if isinstance(off, str) and not off.strip().endswith("%"):
        return Measured(number, abs(heat_per_mass(off)))
    if isinstance(off, str):
        return Measured(number, _share_of(off, names) * number)
    return Measured(number, abs(off))


def _share_of(off: str, names: Names) -> float:
    return fraction(off, "heating_value", Names({"heating_value": names["heating_value_within"]})).value


def _parts(parts: Mapping[str, Input], names: Names) -> dict[str, tuple[Measured, str]]:
    found: dict[str, tuple[Measured, str]] = {}
    for name, value in parts.items():
        if isinstance(value, str):
            typed = rate_or_amount(value, POWER, key=f"{names['parts']} {name}")
            found[name] = (Measured(typed.value), typed.dimension)
        elif value is not None:
            found[name] = (value if isinstance(value, Measured) else Measured(float(value)), "power")
    return found
