"""Heat flows made fit for a picture: all positive, each pair once, none in a ring."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

__all__ = ["Link", "straighten"]

SMALLEST_SHARE: Final = 5e-4
"""Flows under this share of the heat put in are left out."""
Link = tuple[str, str, float]
"""Source, target, heat."""


def straighten(flows: Sequence[Link]) -> tuple[list[Link], int]:
    """Turn flows into ones that are positive and go round no ring.

    Flows below zero run the other way; what was "kept in" a store is then "taken from" it. Flows of one pair
    and direction are added up. A flow that would close a ring ends in a part "back to ..." and begins anew in
    a part "back from ...".

    Parameters
    ----------
    flows : sequence of (source, target, heat)

    Returns
    -------
    list of (source, target, heat)
    int
        Number of flows too small to be drawn.
    """
    added: dict[tuple[str, str], float] = {}
    for source, target, heat in flows:
        pair = (source, target) if heat >= 0.0 else (_emptied(target), source)
        if source != target and heat != 0.0 and np.isfinite(heat):
            added[pair] = added.get(pair, 0.0) + abs(heat)
    targets = {target for _, target in added}
    put_in = sum(heat for (source, _), heat in added.items() if source not in targets)
    smallest = SMALLEST_SHARE * (put_in or max(added.values(), default=0.0))
    kept = [(source, target, heat) for (source, target), heat in added.items() if heat > smallest]
    after: dict[str, set[str]] = {}
    straight: list[Link] = []
    # The largest flows keep their way; a small one that runs against them is cut.
    for source, target, heat in sorted(kept, key=lambda link: -link[2]):
        if _reaches(after, target, source):
            straight += [(source, f"back to {target}", heat), (f"back from {source}", target, heat)]
        else:
            after.setdefault(source, set()).add(target)
            straight.append((source, target, heat))
    order = {name: place for place, name in enumerate(name for link in kept for name in link[:2])}
    straight.sort(key=lambda link: (order.get(link[0], 1000), order.get(link[1], 1000)))
    return straight, len(added) - len(kept)


def _emptied(store: str) -> str:
    kept = "kept in "
    return f"taken from {store.removeprefix(kept)}" if store.startswith(kept) else store


def _reaches(after: dict[str, set[str]], begin: str, end: str) -> bool:
    waiting, seen = [begin], set()
    while waiting:
        name = waiting.pop()
        if name == end:
            return True
        if name not in seen:
            seen.add(name)
            waiting += after.get(name, ())
    return False
