"""Weather over one step of the clock, from which a chain cuts shorter steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.run.coupling import GAMMA, Steps

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Line:
    """Weather over one step of the clock, as straight lines; parts of the step are cut from it.

    Attributes
    ----------
    begin, end : int [ticks]
    mean, rise : (3,) float
        Outside [K above reference], sun [W/m2], series supply temperature [K]: mean and rise over the step.
    number : int
        Of the step.
    """

    begin: int
    end: int
    mean: NDArray[np.float64]
    rise: NDArray[np.float64]
    number: int

    def outside_at(self, tick: int) -> float:
        """Outside [K above reference] at an instant of the step."""
        share = (tick - self.begin) / (self.end - self.begin)
        return float(self.mean[0] + self.rise[0] * (share - 0.5))

    def stages(self, first: int, last: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(3,) means, and (3, 2) values at the two stages, of the part from `first` to `last` [ticks]."""
        whole = self.end - self.begin
        if first == self.begin and last == self.end:
            mean, rise = self.mean, self.rise
        else:
            mean = self.mean + self.rise * ((0.5 * (first + last) - self.begin) / whole - 0.5)
            rise = self.rise * ((last - first) / whole)
        return mean, np.column_stack((mean + rise * (GAMMA - 0.5), mean + 0.5 * rise))


def line_of(steps: Steps, number: int, begin: int, reference: float) -> Line:
    """Weather of step `number`, which begins at tick `begin`."""
    pairs = np.array([steps.outside[number] - reference, steps.sun[number], steps.supply[number]])
    rise = (pairs[:, 1] - pairs[:, 0]) / (1.0 - GAMMA)
    return Line(begin, int(steps.ends[number]), pairs[:, 1] - 0.5 * rise, rise, number)
