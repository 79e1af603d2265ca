"""Where the heat went between two moments of a run, out of its ledger."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from simulator.case.units import show
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["HeatAccount", "heat_account", "up_through_floor"]

Total = TypeVar("Total", float, "FloatArray")

LEAST_TOLD = 5e-3 * 3.6e6
"""Less [J] would be shown as nothing."""


@dataclass(frozen=True)
class HeatAccount(Displayed):
    """Heat moved between two moments [J].

    Attributes
    ----------
    heater, fan : float
        Put into the supply air, by a jacket's blower into its air.
    air_to_ground : float
        Given by the duct air to floor and ground while it was the warmer one.
    ground_to_air : float
        Taken back by the duct air while it was the cooler one.
    floor_to_room : float
        Up through the floor surface, less what went down; in a house less the sun that the floor takes up.
    return_to_room : float
        Brought by the returning duct air, relative to room air.
    ground_change, under_floor_change, room_change : float
        Change of what all ground holds, the part of it between the building's edges, and the room.
    residual : float
        What the ledger cannot account for.
    handled : float
        Heat that the ledger moved, the measure for the residual.
    flue : float
        Given by combustion gas in the flue run.
    latent : float
        Set free by water settling in the ducts, less what drying took.
    by_stove : bool
        Whether what counts as the heater is a stove's air behind its coils.
    in_house : bool
        Whether sun on the floor is set against what the floor gives.
    """

    heater: float
    fan: float
    air_to_ground: float
    ground_to_air: float
    floor_to_room: float
    return_to_room: float
    ground_change: float
    under_floor_change: float
    room_change: float
    residual: float
    handled: float
    flue: float = 0.0
    latent: float = 0.0
    by_stove: bool = False
    in_house: bool = False

    @property
    def put_in(self) -> float:
        """Heat from heater, fan and flue run [J]."""
        return self.heater + self.fan + self.flue

    @property
    def given_back(self) -> float:
        """Heat the floor gave the room and the ground gave the duct air [J]."""
        return max(self.floor_to_room, 0.0) + self.ground_to_air

    @property
    def put_into_ground(self) -> float:
        """Heat the duct air gave the ground, and the room the floor, if it did on balance [J]."""
        return self.air_to_ground + max(-self.floor_to_room, 0.0)

    @property
    def fraction_kept(self) -> float | None:
        """Share of the heat put into the ground that was not given back [1].

        It is still there, or has gone on sideways and down. Negative when more came back than was put in;
        None when nothing was put in.
        """
        into = self.put_into_ground
        return 1.0 - self.given_back / into if into > 0.0 else None

    @property
    def residual_share(self) -> float:
        """Size of the residual against the heat handled [1]; 0 when nothing moved."""
        return abs(self.residual) / self.handled if self.handled > 0.0 else 0.0

    def as_dict(self) -> dict[str, Any]:
        """Return every number with its unit."""
        own = [field.name for field in fields(self) if not isinstance(getattr(self, field.name), bool)]
        names = [*own, "put_in", "put_into_ground", "given_back"]
        found: dict[str, Any] = {name: {"value": getattr(self, name), "unit": "J"} for name in names}
        found["fraction_kept"] = {"value": self.fraction_kept, "unit": "1"}
        found["residual_share"] = {"value": self.residual_share, "unit": "1"}
        return found

    def as_rows(self, units: System) -> list[tuple[str, str]]:
        """Return lines to print: what, how much."""

        def heat(value: float) -> str:
            return show(value, "energy", units)

        fraction = self.fraction_kept
        if fraction is None:
            kept = "nothing went in"
        elif fraction < 0.0:
            owed = heat(self.given_back - self.put_into_ground)
            kept = f"nothing: it gave back {owed} more than went in, from heat stored before"
        else:
            kept = f"{100.0 * fraction:.0f} %"
        parts = f"{'stove' if self.by_stove else 'heater'} {heat(self.heater)}, fan {heat(self.fan)}"
        if self.flue != 0.0:
            parts += f", flue run {heat(self.flue)}"
        settled = (
            [("Set free by water settling, less drying", heat(self.latent))]
            if abs(self.latent) >= LEAST_TOLD
            else []
        )
        floor = "Up through the floor, less sun on it" if self.in_house else "From the floor to the room"
        return [
            ("Heat put into the ducts" if self.by_stove else "Heat put in", f"{heat(self.put_in)} ({parts})"),
            *settled,
            ("From duct air into the ground", heat(self.air_to_ground)),
            ("From the ground back to duct air", heat(self.ground_to_air)),
            (floor, heat(self.floor_to_room)),
            ("Given back, floor and duct air", heat(self.given_back)),
            ("Brought to the room by returning air", heat(self.return_to_room)),
            ("Kept of what went into the ground", kept),
            ("Change of the store under the floor", heat(self.under_floor_change)),
            ("Change of the store in all ground", heat(self.ground_change)),
            (
                "Left over in the ledger",
                f"{heat(self.residual)} ({100.0 * self.residual_share:.2g} % of the heat handled)",
            ),
        ]


def up_through_floor(total: Callable[[str], Total]) -> Total:
    """Return what went up through the floor less the sun on it, from the balance of the ground [J].

    The ledger's account of the floor counts from the room's air alone; in a house the floor also takes up
    sun, and radiates to surfaces that are not as warm as the air.

    Parameters
    ----------
    total : callable
        Gives the ledger's account of a name, as a number or as a course.
    """
    return total("duct") + total("bottom") + total("sides") - total("outside_ground") - total("stored_ground")


def heat_account(results: Results, begin: float, end: float) -> HeatAccount:
    """Read the ledger between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case. Between rows the ledger is taken to run straight, which is what the
        mean heat flows of the rows say.

    Returns
    -------
    HeatAccount
    """
    rows = results["time"].values
    moments = np.concatenate(([begin], rows[(rows > begin) & (rows < end)], [end]))

    def course(name: str) -> FloatArray:
        ledger: FloatArray = np.interp(moments, rows, results[f"ledger_{name}"].values)
        return ledger

    def moved(name: str) -> float:
        ledger = course(name)
        # Damaged results may hold infinities.
        with np.errstate(invalid="ignore"):
            return float(ledger[-1] - ledger[0])

    into_ground = np.diff(course("duct"))
    house = "sun_let_in" in results
    floor = moved("floor")
    if house:
        floor = up_through_floor(moved)
    return HeatAccount(
        heater=moved("heater"),
        fan=moved("fan"),
        air_to_ground=float(into_ground[into_ground > 0.0].sum()),
        ground_to_air=float(-into_ground[into_ground < 0.0].sum()),
        floor_to_room=floor,
        return_to_room=moved("return"),
        ground_change=moved("stored_ground"),
        under_floor_change=moved("stored_under_floor"),
        room_change=moved("stored_room"),
        residual=moved("residual"),
        handled=moved("handled"),
        flue=moved("flue") if "ledger_flue" in results else 0.0,
        latent=moved("latent") if "ledger_latent" in results else 0.0,
        by_stove="shell_temperature" in results,
        in_house=house,
    )
