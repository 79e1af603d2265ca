"""The integer clock: rows and steps, with switches at any millisecond."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.run.clock import REFINEMENT, SHORTEST_REFINED_STEP, row_ticks, step_ends
from tests.examples import examples

MANY = settings(max_examples=examples(200))
STEP = st.integers(100, 21_600_000)
DAY = 86_400_000


@MANY
@given(st.integers(1, 40 * DAY), st.integers(1, DAY), st.integers(100, DAY))
def test_rows_cover_the_run_and_fall_on_whole_steps(duration: int, interval: int, step: int) -> None:
    if duration // max(interval, step) > 20_000:
        interval = max(interval, duration // 20_000)
    rows = row_ticks(duration, interval, step)
    assert rows[0] == 0
    assert rows[-1] == duration
    assert np.diff(rows).min() > 0
    spacing = rows[1] if rows.size > 2 else duration
    if rows.size > 2:
        assert spacing % step == 0
        assert interval <= spacing < interval + step
    np.testing.assert_array_equal(rows[:-1], np.arange(rows.size - 1) * spacing)


@st.composite
def clocks(draw: st.DrawFn) -> tuple[int, int, int, list[int], list[int]]:
    step = draw(STEP)
    begin = draw(st.sampled_from([0, -step, -3 * DAY - 7]))
    end = begin + draw(st.integers(1, 300)) * step + draw(st.integers(0, step - 1))
    ticks = st.lists(st.integers(begin - step, end + step), max_size=6)
    return begin, end, step, sorted(set(draw(ticks))), draw(ticks)


@MANY
@given(clocks(), st.booleans())
def test_steps_end_on_every_switch_and_stop(
    clock: tuple[int, int, int, list[int], list[int]], refine: bool
) -> None:
    begin, end, step, switches, stops = clock
    ends = step_ends(begin, end, step, switches, stops, refine=refine)
    lengths = np.diff(np.concatenate(([begin], ends)))
    assert ends[-1] == end
    assert lengths.min() >= 1
    assert lengths.max() <= step
    inside = {tick for tick in (*switches, *stops) if begin < tick < end}
    assert inside <= set(ends.tolist())
    assert set(range(begin + step, end, step)) <= set(ends.tolist())
    if not refine:
        assert set(ends.tolist()) == inside | set(range(begin + step, end, step)) | {end}


@MANY
@given(clocks())
def test_steps_begin_small_after_a_switch(clock: tuple[int, int, int, list[int], list[int]]) -> None:
    begin, end, step, switches, stops = clock
    plain = step_ends(begin, end, step, switches, stops, refine=False)
    fine = step_ends(begin, end, step, switches, stops, refine=True)
    assert set(plain.tolist()) <= set(fine.tolist())
    for start in [begin, *(tick for tick in switches if begin < tick < end)]:
        length = int(plain[np.searchsorted(plain, start, side="right")]) - start
        inner = fine[(fine > start) & (fine < start + length)] - start
        if step < SHORTEST_REFINED_STEP or length < SHORTEST_REFINED_STEP:
            assert inner.size == 0
        else:
            # 1/16, 2/16, 4/16 and 8/16 of the first step, to the millisecond.
            np.testing.assert_allclose(inner, length * np.array([1, 2, 4, 8]) / 16.0, atol=0.5)


def test_refinement_adds_up_to_the_whole_step() -> None:
    assert sum(REFINEMENT) == 16


def test_a_switch_at_an_odd_millisecond_by_hand() -> None:
    ends = step_ends(0, 900_000, 300_000, [300_007], [], refine=False)
    assert ends.tolist() == [300_000, 300_007, 600_000, 900_000]
