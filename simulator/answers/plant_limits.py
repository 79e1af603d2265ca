"""The limits of stove, fan, coils, tank and lines as one table, with source, what to do and whom to call.

Published limits name their source; what is recalled and was not looked up says "from memory", and what only
the trade says is "common practice, no source".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

__all__ = ["PLANT_LIMITS", "Place", "PlantLimit"]

Place = Literal["", "coil", "layer", "lane"]
_ZERO: Final = 273.15


@dataclass(frozen=True)
class PlantLimit:
    """One limit of the plant.

    Attributes
    ----------
    name : str
        Short name, for lists that other programs read.
    subject : str
        What it protects. Of the limits of one subject only the last one passed in the table is told.
    series : tuple of str
        Temperatures of the results that are held against it.
    what : str
        What these are, in words.
    side : {"above", "below"}
    temperature : float or None
        Limit [K]; None where the case gives it: `case_key` names table and key, `default` stands in.
    severity : {"danger", "caution"}
    message : str
        What it means.
    act : str
        What to do.
    call : str
        When to call a licensed person; empty where nobody is needed.
    source : str
    case_key : tuple of (table, key), optional
    default : float, optional [K]
    while_burning : bool
        Only rows in which the fire burns well count, after it has burnt so for half an hour.
    after : tuple of str
        Kinds of upset from which the time to act is counted.
    needs : str
        A dataset that must be there as well, or empty.
    """

    name: str
    subject: str
    series: tuple[str, ...]
    what: str
    side: Literal["above", "below"]
    temperature: float | None
    severity: Literal["danger", "caution"]
    message: str
    act: str
    call: str
    source: str
    case_key: tuple[str, str] | None = None
    default: float | None = None
    while_burning: bool = False
    after: tuple[str, ...] = ()
    needs: str = ""


HEAT_STAYS: Final = ("fan stops", "power cut", "filter clogged", "fire over-fed")
"""Upsets that leave more heat in the stove."""
HEAT_GOES_ON: Final = ("pump stops", "power cut", "fire over-fed", "filter clogged")
"""Upsets that leave more heat in the air behind the coils."""
COLD: Final = ("fan stops", "pump stops", "power cut", "cover left off")
"""Upsets that leave the house colder."""
_NO_WATER_ON_FIRE: Final = "Never throw water on a hot stove or coil."

PLANT_LIMITS: Final = (
    PlantLimit(
        "stove too hot", "stove", ("shell_temperature",), "the stove's shell", "above", None, "danger",
        "the shell scales, warps and cracks, and whatever stands near takes fire.",
        "Lay on no more fuel, close the fire's air, keep the fan running and stay with it. "
        + _NO_WATER_ON_FIRE,
        "Have a stove that glowed looked at by a licensed person before the next fire.",
        "stove.service_temperature of the case; the maker's figure decides",
        case_key=("stove", "service_temperature"), default=723.15, after=HEAT_STAYS,
    ),
    PlantLimit(
        "hot shell, touched", "hot parts of the stove", ("shell_temperature", "hood_wall_temperature"),
        "metal of the stove and hood", "above", 65.0 + _ZERO, "caution",
        "bare metal this hot burns skin in a second, and at 51 degC (124 degF) within a minute.",
        "Fence the stove and every hot part within a child's reach.",
        "", "ISO 13732-1, values from memory",
    ),
    PlantLimit(
        "fan too hot", "fan", ("fan_air_temperature",), "the air at the fan", "above", None, "danger",
        "motor and blades are not made for this air: bearings and windings fail, plastic sags, and a fan "
        "that stops leaves the heat where it is.",
        "Burn less, start the pump, or put the coils before the fan. Fit a cut-out that stops the feed.",
        "A licensed electrician replaces a motor that smelled or tripped.",
        "hood.fan_service_temperature of the case; the maker's figure decides",
        case_key=("hood", "fan_service_temperature"), default=333.15, after=(*HEAT_GOES_ON, "fan stops"),
    ),
    PlantLimit(
        "ducts too hot", "duct", ("supply_temperature", "wall_temperature"), "the ducts", "above", None,
        "danger",
        "plastic softens, sags and gives off fumes.",
        "Burn less, let the pump take heat out first, or use metal or clay pipe near the stove.",
        "A sagged duct under a floor is for a builder with the means to open it.",
        "ducts.service_temperature of the case, or of its material; else 60 degC, the usual rating of PVC-U "
        "pipe. The maker's figure decides",
        case_key=("ducts", "service_temperature"), after=HEAT_GOES_ON,
    ),
    PlantLimit(
        "coil near boiling", "coil", ("coil_water_temperature",), "water in the coil", "above", 363.15,
        "caution",
        "little is left before it boils.",
        "Start the pump or open the valves; if neither works, stop the fire.",
        "", "ten kelvin below boiling at sea level; common practice, no source", after=HEAT_GOES_ON,
    ),
    PlantLimit(
        "coil boils", "coil", ("coil_water_temperature",), "water in the coil", "above", None, "danger",
        "it boils. Steam shut in between two valves bursts the coil and scalds; an open one spits boiling "
        "water.",
        "Keep away from the coil, take the fire's air and fuel, keep the fan running. Do not pump cold water "
        "into a dry coil. An open vent, a relief valve led to a safe place and a pump that runs through a "
        "power cut belong to every coil in a fire's air.",
        "Relief valves and vents are work for a licensed plumber or heating engineer; call one before the "
        "next fire after a coil has boiled.",
        "coils.boiling_temperature of the case; water boils at 100 degC at sea level, IAPWS",
        case_key=("coils", "boiling_temperature"), default=373.15, after=HEAT_GOES_ON,
    ),
    PlantLimit(
        "scald within minutes", "scald", ("tank_layer_temperature", "tank_temperature"), "water of the tank",
        "above", 49.0 + _ZERO, "caution",
        "water this hot burns skin in some minutes, a child's or an old person's sooner.",
        "Mix it down before a tap or a bath, and keep the lid on.",
        "A mixing valve at the outlet is work for a licensed plumber.",
        "A. R. Moritz and F. C. Henriques, American J. Pathology 23 (1947) 695-720, from memory",
        after=("fire over-fed",),
    ),
    PlantLimit(
        "scald within seconds", "scald", ("tank_layer_temperature", "tank_temperature"), "water of the tank",
        "above", 60.0 + _ZERO, "danger",
        "water this hot burns skin within seconds.",
        "Nobody bathes, washes or reaches into it. Mix it down at the outlet, keep the lid on, and stop the "
        "pump.",
        "A mixing valve at the outlet is work for a licensed plumber.",
        "A. R. Moritz and F. C. Henriques, American J. Pathology 23 (1947) 695-720, from memory",
        after=("fire over-fed",),
    ),
    PlantLimit(
        "tank too warm", "tank, warm side", ("tank_layer_temperature", "tank_temperature"),
        "water of the tank", "above", None, "caution",
        "too warm for what lives or soaks in it.",
        "Stop the pump, or lead the heat to the floor; add cold water slowly.",
        "", "water.safe_high of the case", case_key=("water", "safe_high"), after=("fire over-fed",),
    ),
    PlantLimit(
        "tank too cold", "tank, cold side", ("tank_layer_temperature", "tank_temperature"),
        "water of the tank", "below", None, "caution",
        "too cold for what lives or soaks in it.",
        "Give the coils more of the fire, cover the tank.",
        "", "water.safe_low of the case", case_key=("water", "safe_low"), after=COLD,
    ),
    PlantLimit(
        "frost near", "frost", ("coil_water_temperature", "tank_layer_temperature", "room_temperature"),
        "water lines", "below", 275.15, "caution",
        "two kelvin more and lines, coils and pump freeze and burst; they leak when they thaw.",
        "Keep the pump turning, close and drain what stands outside, bring warmth to the room.",
        "", "water freezes at 0 degC; the margin is common practice, no source", needs="tank_temperature",
        after=COLD,
    ),
    PlantLimit(
        "frost on water lines", "frost",
        ("coil_water_temperature", "tank_layer_temperature", "room_temperature"), "water lines", "below",
        _ZERO, "danger",
        "standing water freezes and bursts lines, coil and pump; a coil that is frozen shut bursts again "
        "when the fire is lit.",
        "Do not light the stove until water runs through every coil. Thaw with warm air, never with a flame. "
        "Drain what is not used.",
        "A licensed plumber tests lines that froze before they carry heat again.",
        "water freezes at 0 degC", needs="tank_temperature", after=COLD,
    ),
    PlantLimit(
        "cool flue", "flue gas", ("stove_gas_temperature",), "the flue gas", "below", 393.15, "caution",
        "gas this cool leaves water and tar (creosote) in the flue, and tar that catches fire burns the "
        "house.",
        "Burn dry wood, briskly, with enough air; take less heat out of the gas; sweep more often.",
        "Have the flue swept and looked at by a licensed sweep at least once a year.",
        "common design practice of 120 to 160 degC where gas enters the flue, from memory; dew point of "
        "wood gas "
        "41 to 54 degC by stoichiometry", while_burning=True,
    ),
    PlantLimit(
        "flue gas near its dew point", "flue gas", ("stove_gas_temperature",), "the flue gas", "below",
        338.15, "danger",
        "the gas is hardly warmer than its dew point: acid water runs down the flue, and the stack hardly "
        "pulls, so smoke and carbon monoxide come into the room.",
        "Do not burn like this: give the fire more air and drier wood, take less heat out of its gas.",
        "Have draught and flue tested by a licensed person before the next fire.",
        "dew point of wood gas 41 to 61 degC by stoichiometry, with a margin; margin common practice, no "
        "source",
        while_burning=True,
    ),
    PlantLimit(
        "floor for feet", "floor", ("floor_highest_temperature",), "the floor", "above", 29.0 + _ZERO,
        "caution",
        "too warm for those who stand or sit on it for long.",
        "Lead the next hour of fire elsewhere, or stop the fan.",
        "", "EN 1264-2; ISO 7730 (value from memory)", after=HEAT_GOES_ON,
    ),
    PlantLimit(
        "floor at the edge", "floor", ("floor_highest_temperature",), "the floor", "above", 35.0 + _ZERO,
        "caution",
        "more than is usual even along the edges of a room.",
        "Lead the next hour of fire elsewhere, or stop the fan.",
        "", "EN 1264-2", after=HEAT_GOES_ON,
    ),
    PlantLimit(
        "floor that burns", "floor", ("floor_highest_temperature",), "the floor", "above", 43.0 + _ZERO,
        "danger",
        "skin that rests on it for hours is burnt.",
        "Nobody may sleep or lie on it; take up rugs and bedding, stop the fan, stop the fire.",
        "", "ISO 13732-1, contact of 8 hours and longer, value from memory", after=HEAT_GOES_ON,
    ),
)  # fmt: skip
