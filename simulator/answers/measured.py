"""Numbers that may be off, and how far an answer is off that was computed from them.

First-order law of propagation of uncertainty, JCGM 100:2008 (GUM), equation 10: independent inputs x_i with
standard uncertainties u_i give u(y)^2 = sum (dy/dx_i u_i)^2. What goes in as +/- with one coverage comes out
as +/- with the same coverage; the program speaks of 19 cases in 20, twice the standard uncertainty of a
normal distribution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

__all__ = ["COVERAGE", "Measured", "propagate"]

COVERAGE: Final = (
    "every +/- holds in 19 cases of 20 (twice the standard uncertainty; JCGM 100:2008, first order)"
)

_STEP: Final = 1e-3
"""Part of the uncertainty by which an input is moved for its derivative; small, for the first order."""


@dataclass(frozen=True)
class Measured:
    """A number and how far it may be off either way.

    Attributes
    ----------
    value : float
    within : float
        Half width, in the unit of the value; 0 when taken as exact.
    """

    value: float
    within: float = 0.0


def propagate(
    function: Callable[[Mapping[str, float]], float], inputs: Mapping[str, Measured]
) -> tuple[Measured, dict[str, float]]:
    """Compute a number from others that may be off.

    Parameters
    ----------
    function : callable
        Takes the inputs by name.
    inputs : mapping of str to Measured
        Independent of each other.

    Returns
    -------
    Measured
        Of the same coverage as the inputs.
    dict of str to float
        Share of each input in the square of the uncertainty, adding up to 1; empty when all are exact.
    """
    middle = {name: given.value for name, given in inputs.items()}
    squares: dict[str, float] = {}
    for name, given in inputs.items():
        if given.within > 0.0:
            step = _STEP * given.within
            above = function({**middle, name: given.value + step})
            below = function({**middle, name: given.value - step})
            squares[name] = ((above - below) / (2.0 * _STEP)) ** 2
    total = sum(squares.values())
    shares = {name: square / total for name, square in squares.items()} if total > 0.0 else {}
    return Measured(function(middle), math.sqrt(total)), shares
