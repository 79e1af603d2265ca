"""Where the parts and ribbons of a heat flow picture lie: columns from left to right, nothing on anything.

Parts stand in columns by the longest way that heat takes to them. A ribbon that passes a column gets a place
of its own there, as if it were a part. The order within columns is by the weighted mean place of the
neighbours (K. Sugiyama, S. Tagawa and M. Toda, IEEE Trans. SMC 11 (1981) 109-125), the heights by least
squares against the neighbours' heights with the order and the gaps kept (pool-adjacent-violators).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from simulator.look.heat_flow_links import Link, straighten

__all__ = ["Arrangement", "Part", "Piece", "Ribbon", "arrange"]

GAP: Final = 0.14  # [in]
SWEEPS: Final = 12
LEAST_HEAT: Final = 1e-200


@dataclass
class Part:
    """A part of the picture, or the place where a ribbon passes a column (`passing`).

    Attributes
    ----------
    name : str
    column : int
    comes, goes : float
        Heat into it and out of it.
    passing : bool
    above, least : float
        Height [in] that its words need above its bar, and for all of it at least where they stand beside it.
    top : float
        Of its bar, from the top of the sheet [in], once placed.
    thickness : float
        Of its bar [in].
    """

    name: str
    column: int
    comes: float = 0.0
    goes: float = 0.0
    passing: bool = False
    above: float = 0.0
    least: float = 0.0
    top: float = 0.0
    thickness: float = 0.0

    @property
    def through(self) -> float:
        """Heat that goes through it."""
        return max(self.comes, self.goes)

    @property
    def slot(self) -> float:
        """Height [in] that it takes in its column, with its words."""
        return self.above + max(self.thickness, self.least)

    @property
    def middle(self) -> float:
        """Middle of its bar, from the top of the sheet [in]."""
        return self.top + 0.5 * self.thickness


@dataclass(frozen=True)
class Piece:
    """A ribbon between two neighbouring columns: heights of its middle at both ends [in]."""

    column: int
    begin: float
    end: float


@dataclass(frozen=True)
class Ribbon:
    """A flow from part to part."""

    source: str
    target: str
    heat: float
    thickness: float
    pieces: tuple[Piece, ...]


@dataclass
class Arrangement:
    """Everything in its place.

    Attributes
    ----------
    parts : list of Part
        Without the places where ribbons pass.
    ribbons : list of Ribbon
    columns : int
    height : float [in]
    put_in : float
        Heat that comes from parts that nothing goes into.
    left_out : int
        Flows too small to be drawn.
    """

    parts: list[Part]
    ribbons: list[Ribbon]
    columns: int
    height: float
    put_in: float
    left_out: int = 0
    names: dict[str, Part] = field(default_factory=dict)


def arrange(flows: Sequence[Link], per_heat: float, words: float) -> Arrangement:
    """Lay out a picture.

    Parameters
    ----------
    flows : sequence of (source, target, heat)
    per_heat : float [in]
        Thickness of a ribbon that carries all the heat put in; of the largest part's where that is more.
    words : float [in]
        Height of a part's words.

    Returns
    -------
    Arrangement
    """
    links, left_out = straighten(flows)
    sources, targets = {link[0] for link in links}, {link[1] for link in links}
    put_in = sum(heat for source, _, heat in links if source not in targets)
    depth = _depths(links)
    columns = max(depth.values(), default=0) + 1
    parts: dict[str, Part] = {}
    for name in dict.fromkeys(name for link in links for name in link[:2]):
        # Whatever nothing leaves stands at the right edge, where its words have room.
        column = columns - 1 if name not in sources else 0 if name not in targets else depth[name]
        parts[name] = Part(name, column)
    for source, target, heat in links:
        parts[source].goes += heat
        parts[target].comes += heat
    # Where parts do not balance, none gets taller than all heat put in; heat too small to divide by is none.
    most = max([put_in, *(part.through for part in parts.values())])
    scale = per_heat / most if most > LEAST_HEAT else 0.0
    for part in parts.values():
        outer = part.column in (0, columns - 1)
        part.thickness = scale * part.through
        part.above, part.least = (0.0, words) if outer else (words + 0.04, 0.0)
    chains = [_chain(parts, link, scale) for link in links]
    rows = _order(parts, chains, columns)
    height = _place(rows, chains)
    ports = _ports(rows, chains)
    ribbons = []
    for number, ((source, target, heat), chain) in enumerate(zip(links, chains, strict=True)):
        pieces = tuple(
            Piece(one.column, ports[number, step, "goes"], ports[number, step + 1, "comes"])
            for step, one in enumerate(chain.visits[:-1])
        )
        ribbons.append(Ribbon(source, target, heat, scale * heat, pieces))
    return Arrangement(list(parts.values()), ribbons, columns, height, put_in, left_out, parts)


def _depths(links: list[Link]) -> dict[str, int]:
    """Length of the longest way to each part."""
    depth = {name: 0 for link in links for name in link[:2]}
    for _ in depth:
        for source, target, _heat in links:
            depth[target] = max(depth[target], depth[source] + 1)
    return depth


@dataclass(frozen=True)
class _Chain:
    """A flow and the parts that its ribbon visits."""

    heat: float
    visits: tuple[Part, ...]

    @property
    def steps(self) -> list[tuple[Part, Part]]:
        return list(zip(self.visits, self.visits[1:], strict=False))


def _chain(parts: dict[str, Part], link: Link, scale: float) -> _Chain:
    """Return the parts that a ribbon visits, with a place of its own in each column that it only passes."""
    source, target, heat = link
    first, last = parts[source], parts[target]
    between = [
        Part(f"{source} to {target}", column, heat, heat, passing=True, thickness=scale * heat)
        for column in range(first.column + 1, last.column)
    ]
    return _Chain(heat, (first, *between, last))


def _order(parts: dict[str, Part], chains: list[_Chain], columns: int) -> list[list[Part]]:
    """Order every column so that ribbons cross little."""
    everything = [*parts.values(), *(part for chain in chains for part in chain.visits if part.passing)]
    rows = [[part for part in everything if part.column == column] for column in range(columns)]
    best, fewest = [list(row) for row in rows], _crossings(rows, chains)
    for sweep in range(SWEEPS):
        rightward = sweep % 2 == 0
        for column in range(1, columns) if rightward else range(columns - 2, -1, -1):
            beside = rows[column + (-1 if rightward else 1)]
            place = {id(part): number for number, part in enumerate(beside)}
            pulls: dict[int, list[tuple[float, float]]] = {}
            for chain in chains:
                for left, right in chain.steps:
                    mine, other = (right, left) if rightward else (left, right)
                    if mine.column == column and id(other) in place:
                        pulls.setdefault(id(mine), []).append((place[id(other)], chain.heat))
            here = {id(part): float(number) for number, part in enumerate(rows[column])}
            for key, pulling in pulls.items():
                here[key] = sum(at * weight for at, weight in pulling) / sum(weight for _, weight in pulling)
            rows[column].sort(key=lambda part, here=here: here[id(part)])  # type: ignore[misc]
        crossed = _crossings(rows, chains)
        if crossed < fewest:
            best, fewest = [list(row) for row in rows], crossed
    return best


def _crossings(rows: list[list[Part]], chains: list[_Chain]) -> float:
    """Weigh the crossings of ribbons by the thinner one of each pair."""
    place = {id(part): number for row in rows for number, part in enumerate(row)}
    steps: dict[int, list[tuple[int, int, float]]] = {}
    for chain in chains:
        for left, right in chain.steps:
            ends = (place[id(left)], place[id(right)], chain.heat)
            steps.setdefault(left.column, []).append(ends)
    total = 0.0
    for listed in steps.values():
        for number, (begin, end, weight) in enumerate(listed):
            for other_begin, other_end, other in listed[number + 1 :]:
                if (begin - other_begin) * (end - other_end) < 0:
                    total += min(weight, other)
    return total


def _place(rows: list[list[Part]], chains: list[_Chain]) -> float:
    """Give every part its height on the sheet; return how tall the picture is."""
    height = max((_stack(row) for row in rows), default=0.0)
    for row in rows:
        top = 0.5 * (height - _stack(row))
        for part in row:
            part.top = top + part.above + _beside(part)
            top += part.slot + GAP
    for sweep in range(SWEEPS):
        rightward = sweep % 2 == 0
        for row in rows if rightward else rows[::-1]:
            _draw_near(row, chains, height)
    return height


def _beside(part: Part) -> float:
    """Height [in] from the top of a part's words to its bar, where the words stand beside a thinner bar."""
    return max(0.5 * (part.least - part.thickness), 0.0)


def _stack(row: list[Part]) -> float:
    return sum(part.slot for part in row) + GAP * max(len(row) - 1, 0)


def _draw_near(row: list[Part], chains: list[_Chain], height: float) -> None:
    """Move a column's parts near their neighbours: least squares with order and gaps kept."""
    if not row:
        return
    wanted, weights = [], []
    for part in row:
        pulls = [
            (other.middle, chain.heat)
            for chain in chains
            for left, right in chain.steps
            for other in ([right] if left is part else [left] if right is part else [])
        ]
        total = sum(weight for _, weight in pulls)
        wanted.append(sum(at * weight for at, weight in pulls) / total if total > 0.0 else part.middle)
        weights.append(max(total, 1e-12))
    # A part's slot begins this much above its middle; the slots above it take so much in all.
    lead = np.array([part.above + _beside(part) + 0.5 * part.thickness for part in row])
    taken = np.concatenate(([0.0], np.cumsum([part.slot + GAP for part in row])[:-1]))
    starts = _rising(np.array(wanted) - lead - taken, np.array(weights))
    starts = np.clip(starts, 0.0, height - _stack(row)) + taken
    for part, start in zip(row, starts, strict=True):
        part.top = float(start) + part.above + _beside(part)


def _rising(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Nearest sequence that never falls, by pooling neighbours that do."""
    blocks: list[list[float]] = []
    for value, weight in zip(values, weights, strict=True):
        blocks.append([float(value), float(weight), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            second, first = blocks.pop(), blocks.pop()
            weight_sum = first[1] + second[1]
            mean = (first[0] * first[1] + second[0] * second[1]) / weight_sum
            blocks.append([mean, weight_sum, first[2] + second[2]])
    return np.concatenate([np.full(int(count), value) for value, _, count in blocks])


def _ports(rows: list[list[Part]], chains: list[_Chain]) -> dict[tuple[int, int, str], float]:
    """Heights at which ribbons leave and reach the parts, in the order of their other ends."""
    found: dict[tuple[int, int, str], float] = {}
    for part in (part for row in rows for part in row):
        for side in ("comes", "goes"):
            touching = []
            for number, chain in enumerate(chains):
                for step, visited in enumerate(chain.visits):
                    other = step - 1 if side == "comes" else step + 1
                    if visited is part and 0 <= other < len(chain.visits):
                        touching.append((chain.visits[other].middle, number, step))
            total = part.comes if side == "comes" else part.goes
            share = part.thickness / part.through if part.through > 0.0 else 0.0
            at = part.middle - 0.5 * share * total
            for _, number, step in sorted(touching):
                thickness = share * chains[number].heat
                found[number, step, side] = at + 0.5 * thickness
                at += thickness
    return found
