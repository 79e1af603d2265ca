"""The account of every joule.

Boundary: ground and room air. What comes in less what goes out must equal the change of what is stored; the
residual says how well it does. Accounts with sign +1 bring heat in, -1 take it out, 0 pass it on inside.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulator.run.row_kernels import book_steps


@dataclass(frozen=True)
class Account:
    """One account: short name, sign in the balance, and what it means."""

    name: str
    sign: int
    meaning: str


ACCOUNTS = (
    Account("heater", +1, "heat given by the heater"),
    Account("fan", +1, "electricity of the fan, which ends as heat in the air"),
    Account("duct", 0, "heat from duct air to ground"),
    Account("floor", 0, "heat from floor up to room"),
    Account("return", 0, "heat that returning duct air brings to the room"),
    Account(
        "envelope", -1, "heat lost through the room's envelope; all that leaves a room of fixed temperature"
    ),
    Account("infiltration", -1, "heat lost with leaking air"),
    Account("sun", +1, "sun through the glazing"),
    Account("other_gain", +1, "other heat given to the room"),
    Account("outside_ground", -1, "heat lost from the ground beside the building to outside air"),
    Account("bottom", +1, "heat entering the ground from below"),
    Account("sides", +1, "heat entering the ground through its sides"),
    Account("exhaust", -1, "heat carried away by air exchanged with the outside through the ducts"),
    Account("latent", +1, "heat set free by water settling in the ducts less what drying takes"),
    Account("flue", +1, "heat given by combustion gas in the flue run"),
)
NAMES = tuple(account.name for account in ACCOUNTS)
SIGNS = np.array([account.sign for account in ACCOUNTS], dtype=np.float64)
INDEX = {name: number for number, name in enumerate(NAMES)}
SUMS = 5
"""Sums beside the accounts: change in ground and room, residual, heat handled, largest residual of a step."""
_NO_STEPS = np.zeros(0, dtype=np.int64)


@dataclass
class Ledger:
    """Running totals [J] since the start of the case.

    Attributes
    ----------
    totals : (A,) float
        One per account.
    stored_ground, stored_room : float
        Change of what is stored.
    residual : float
        What came in less what went out less what is stored: zero but for rounding.
    handled : float
        Sum of all heat moved, regardless of sign.
    largest_residual : float
        Largest residual of any single step over the heat handled in it.
    """

    totals: np.ndarray = field(default_factory=lambda: np.zeros(len(ACCOUNTS)))
    stored_ground: float = 0.0
    stored_room: float = 0.0
    residual: float = 0.0
    handled: float = 0.0
    largest_residual: float = 0.0

    def add(
        self,
        energies: NDArray[np.float64],
        stored: NDArray[np.float64],
        row_steps: NDArray[np.int64] = _NO_STEPS,
        row_totals: NDArray[np.float64] | None = None,
        row_sums: NDArray[np.float64] | None = None,
    ) -> None:
        """Book n steps.

        Parameters
        ----------
        energies : (n, A) float [J]
        stored : (n, 2) float [J]
            Change of the heat stored in ground and room.
        row_steps : (k,) int
            Steps after which the books are noted.
        row_totals : (k, A) float; row_sums : (k, 5) float
            Filled: totals of the accounts; heat stored in ground and room, residual, heat handled, largest
            residual.
        """
        sums = np.array(
            [self.stored_ground, self.stored_room, self.residual, self.handled, self.largest_residual]
        )
        if row_totals is None or row_sums is None:
            row_totals, row_sums = np.empty((0, len(NAMES))), np.empty((0, SUMS))
        book_steps(energies, stored, SIGNS, self.totals, sums, row_steps, row_totals, row_sums)
        (
            self.stored_ground, self.stored_room, self.residual, self.handled, self.largest_residual
        ) = sums.tolist()  # fmt: skip
