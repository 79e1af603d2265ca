"""A run with stove, water, house and rules goes on from a checkpoint to the last bit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from simulator.run.loop import simulate
from tests.run.chain_rigs import DAMP, HOUSE, STOVE, WATER, rule
from tests.run.rigs import Collector, small_case

EVERYTHING = (
    STOVE,
    WATER,
    HOUSE,
    DAMP,
    {"timetable": {"start": {"fan": "off"}}, "site": {"duration": "4 h"}},
    rule("supply above floor by 5 K", off_when="supply below floor by 1 K", minimum_on="5 min"),
)


class Memory:
    """Keeps every checkpoint, or hands one out."""

    def __init__(self, stored: Mapping[str, Any] | None = None) -> None:
        self.stored = stored
        self.kept: list[dict[str, Any]] = []

    def begin(self, section: str) -> Mapping[str, Any] | None:
        return self.stored

    def due(self) -> bool:
        return True

    def save(self, arrays: Mapping[str, Any]) -> None:
        self.kept.append({name: np.array(values) for name, values in arrays.items()})


@pytest.mark.parametrize("share", [0.1, 0.45, 0.8])
def test_a_chain_goes_on_as_if_nothing_had_happened(share: float) -> None:
    case, whole, memory = small_case(*EVERYTHING), Collector(), Memory()
    simulate(case, [whole], checkpoints=memory)
    place = int(share * len(memory.kept))
    rest = Collector()
    simulate(case, [rest], checkpoints=Memory(memory.kept[place]))
    first = rest.ticks[0]
    assert 0 < first < whole.ticks[-1]
    assert len(rest.moments) > 1
    later = whole.moments[whole.ticks.index(first) :]
    assert len(later) == len(rest.moments)
    for mine, other in zip(rest.moments, later, strict=True):
        assert mine.values.keys() == other.values.keys()
        for name, value in mine.values.items():
            np.testing.assert_array_equal(value, other.values[name], err_msg=name)
