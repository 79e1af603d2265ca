"""The way of the air through the ducts: branches, each a row of straight stretches under the floor.

Whatever way the case tells it (evenly spaced ducts in a layout, single places, or runs one by one), this is
the form that the rest of the program works with.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Sequence

SAME_PLACE = 1e-6
"""Two coordinates closer than this [m] are the same."""

Place = tuple[float, float]
"""(across, depth) of a centreline [m]."""


class PlaceTold(Protocol):
    """Where a duct crosses the section, as the case tells it."""

    @property
    def across(self) -> float:
        """From the floor's middle line [m]."""

    @property
    def depth(self) -> float:
        """Below the finished floor [m]."""


class RunTold(PlaceTold, Protocol):
    """A straight run as the case tells it."""

    @property
    def along_from(self) -> float:
        """Where the air enters [m]."""

    @property
    def along_to(self) -> float | None:
        """Where the air leaves [m]; None at the floor's end."""


class BranchTold(Protocol):
    """A branch as the case tells it."""

    @property
    def name(self) -> str:
        """Name to show."""

    @property
    def runs(self) -> Sequence[RunTold]:
        """Runs in the order of the air."""

    @property
    def bends(self) -> int:
        """Right-angle bends beside those of turns."""

    @property
    def extra_length(self) -> float:
        """Pipe outside the floor [m]."""

    @property
    def loss_coefficient(self) -> float:
        """Of other fittings [1]."""


class DuctsTold(Protocol):
    """The ducts as the case tells them; see `schema_floor.Ducts`."""

    @property
    def layout(self) -> str:
        """Word for the layout."""

    @property
    def count(self) -> int | None:
        """Ducts side by side."""

    @property
    def spacing(self) -> float | None:
        """Centre to centre [m]."""

    @property
    def depth(self) -> float | None:
        """Centreline [m]."""

    @property
    def lower_depth(self) -> float | None:
        """Of the lower tier [m]."""

    @property
    def inlet_end(self) -> str:
        """End of the floor at which the air enters."""

    @property
    def along_from(self) -> float:
        """Where the ducts begin [m]."""

    @property
    def length(self) -> float | None:
        """Of each duct [m]; None to the floor's end."""

    @property
    def lanes(self) -> Sequence[PlaceTold] | None:
        """Place of each duct."""

    @property
    def branches(self) -> Sequence[BranchTold] | None:
        """Way of the air run by run."""

    @property
    def passes_of_a_branch(self) -> int:
        """Ducts that one branch takes in turn."""


@dataclass(frozen=True)
class Stretch:
    """A straight piece of duct along the floor, in the direction of the air.

    Attributes
    ----------
    across, depth : float [m]
        Centreline, from the floor's middle line and below the finished floor.
    begin, end : float [m]
        Along the floor, where the air enters and leaves; begin > end is air that runs back.
    """

    across: float
    depth: float
    begin: float
    end: float

    @property
    def length(self) -> float:
        """Length [m]."""
        return abs(self.end - self.begin)

    @property
    def direction(self) -> int:
        """+1 away from the floor's start, -1 back towards it."""
        return 1 if self.end > self.begin else -1

    @property
    def place(self) -> Place:
        """Across and depth [m]."""
        return self.across, self.depth


@dataclass(frozen=True)
class DuctBranch:
    """One way from the header to the outlet.

    Attributes
    ----------
    name : str
    stretches : tuple of Stretch
        In the order of the air.
    extra_length : float [m]
        Pipe outside the floor ahead of the first stretch; it costs pressure but exchanges no heat.
    bends : int
        Right-angle bends beside those of the turns between stretches.
    loss_coefficient : float [1]
        Of other fittings in this branch, on the velocity in the duct.
    """

    name: str
    stretches: tuple[Stretch, ...]
    extra_length: float = 0.0
    bends: int = 0
    loss_coefficient: float = 0.0

    @property
    def turns(self) -> tuple[float, ...]:
        """Length of pipe in each turn between two stretches [m], without heat exchange."""
        return tuple(
            math.hypot(b.across - a.across, b.depth - a.depth) + abs(b.begin - a.end)
            for a, b in zip(self.stretches[:-1], self.stretches[1:], strict=True)
        )

    @property
    def right_angles(self) -> int:
        """Right-angle bends in all: two in every turn that leaves the line, and those told."""
        turning = sum(
            a.place != b.place for a, b in zip(self.stretches[:-1], self.stretches[1:], strict=True)
        )
        return 2 * turning + self.bends

    @property
    def buried_length(self) -> float:
        """Length under the floor [m]."""
        return sum(stretch.length for stretch in self.stretches)

    @property
    def length(self) -> float:
        """Length of pipe in all [m]: under the floor, in turns and outside."""
        return self.extra_length + self.buried_length + sum(self.turns)


def even_places(ducts: DuctsTold) -> list[Place]:
    """Places of evenly spaced ducts about the middle line, tier by tier."""
    count, spacing, depth = ducts.count or 0, ducts.spacing or 0.0, ducts.depth or 0.0
    row = [(number - (count - 1) / 2.0) * spacing for number in range(count)]
    places = [(across, depth) for across in row]
    if ducts.layout == "two tiers" and ducts.lower_depth is not None:
        places += [(across, ducts.lower_depth) for across in row]
    return places


def places_of(ducts: DuctsTold) -> list[Place]:
    """Every place where a duct crosses the section, once."""
    if ducts.branches is None:
        return [(lane.across, lane.depth) for lane in ducts.lanes] if ducts.lanes else even_places(ducts)
    places: list[Place] = []
    for branch in ducts.branches:
        for run in branch.runs:
            if not any(same_place((run.across, run.depth), place) for place in places):
                places.append((run.across, run.depth))
    return places


def same_place(one: Place, other: Place) -> bool:
    """Whether two places are the same."""
    return abs(one[0] - other[0]) < SAME_PLACE and abs(one[1] - other[1]) < SAME_PLACE


def branches_of(ducts: DuctsTold, floor_length: float) -> tuple[DuctBranch, ...]:
    """Ways of the air, one for each branch that leaves the header.

    Parameters
    ----------
    ducts : DuctsTold
    floor_length : float [m]

    Returns
    -------
    tuple of DuctBranch
    """
    if ducts.branches is not None:
        return tuple(
            DuctBranch(
                name=branch.name or f"branch {number}",
                stretches=tuple(
                    Stretch(
                        run.across,
                        run.depth,
                        run.along_from,
                        floor_length if run.along_to is None else run.along_to,
                    )
                    for run in branch.runs
                ),
                extra_length=branch.extra_length,
                bends=branch.bends,
                loss_coefficient=branch.loss_coefficient,
            )
            for number, branch in enumerate(ducts.branches, start=1)
        )
    near = ducts.along_from
    far = near + (floor_length - near if ducts.length is None else ducts.length)
    ends = (near, far) if ducts.inlet_end == "start" else (far, near)
    return tuple(
        DuctBranch(f"branch {number}", _to_and_fro(places, *ends))
        for number, places in enumerate(_grouped(ducts), start=1)
    )


def _grouped(ducts: DuctsTold) -> list[list[Place]]:
    """Places that one branch takes in turn."""
    passes = ducts.passes_of_a_branch
    if passes == 1:
        return [[place] for place in sorted(places_of(ducts))]
    if ducts.layout == "two tiers":
        lower, upper = ducts.lower_depth or 0.0, ducts.depth or 0.0
        row = [across for across, depth in even_places(ducts) if depth == upper]
        return [[(across, lower), (across, upper)] for across in row]
    places = sorted(even_places(ducts))
    groups = [places[first : first + passes] for first in range(0, len(places), passes)]
    # Branches right of the middle mirror those on the left: both begin on the side of the edge.
    middle = len(groups) / 2.0
    return [group if number < middle else group[::-1] for number, group in enumerate(groups)]


def _to_and_fro(places: Sequence[Place], begin: float, end: float) -> tuple[Stretch, ...]:
    """Stretches at successive places, each against the direction of the one before."""
    stretches = []
    for across, depth in places:
        stretches.append(Stretch(across, depth, begin, end))
        begin, end = end, begin
    return tuple(stretches)
