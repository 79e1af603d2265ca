"""A short walk with every fuzzer target; `python -m tests.fuzz.run` goes on for as long as one likes."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.targets import broken, formats

INPUTS = {"case": 150, "csv": 200, "tmy3": 80, "results": 120, "checkpoint": 200, "quantity": 400}


# Damaged numbers may overflow: what counts is that nothing but a message comes of it.
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
@pytest.mark.parametrize("name", INPUTS)
def test_broken_input_is_told(name):
    form = formats()[name]
    for seed in form.seeds:
        form.target(seed)

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
