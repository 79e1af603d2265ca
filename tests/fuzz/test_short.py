"""A short walk with every fuzzer target; `python -m tests.fuzz.run` goes on for as long as one likes."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.errors import CaseError
from tests.fuzz.breaking import break_text
from tests.fuzz.targets import Format, broken, formats
from tests.fuzz.walk import walk as walk_on

INPUTS = {
    "case": 150, "csv": 200, "tmy3": 80, "results": 120, "chain": 80, "checkpoint": 200, "part": 60,
    "reduction": 200, "member": 200, "quantity": 400, "typed": 300, "targets": 150,
}  # fmt: skip


# Damaged numbers may overflow: what counts is that nothing but a message comes of it.
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("name", INPUTS)
def test_broken_input_is_told(name):
    form = formats()[name]
    for seed in form.seeds:
        assert form.target(seed) is None

    @given(seed=st.integers(0, 2**63), again=st.integers(1, 3))
    @settings(
        max_examples=INPUTS[name],
        deadline=20_000,
        database=None,
        # The same inputs each time: new ones are the long walk's matter.
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    def walk(seed, again):
        chance = random.Random(seed)
        data = chance.choice(form.seeds)
        for _ in range(again):
            data = broken(form, data, chance)
        form.target(data)

    walk()


def test_a_planted_fault_is_found():
    """What the long walk is for: an input that brings anything but a message is told, with the input."""

    def target(data):
        if b"7" not in data:
            raise ZeroDivisionError
        if b"8" not in data:
            return CaseError("no eight")
        return None

    found = walk_on(Format(target, (b"78",), break_text, 20), 200, 1)
    assert found.inputs == 200
    assert 0 < found.accepted < 200
    assert len(found.places) == 1
    ((text, data),) = found.findings
    assert "ZeroDivisionError" in text
    assert b"7" not in data
