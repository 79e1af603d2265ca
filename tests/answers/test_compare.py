"""Comparisons: antisymmetry, a run with itself, and the pair of cases that the question is told with."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.answers.compare import compare
from simulator.answers.telling import telling
from simulator.case.changed import changed
from simulator.case.loader import load
from simulator.store.record import record
from tests.answers.pinned import small_case

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def pair():
    case = small_case()
    other = changed(case, {"heat.power": "3 kW", "ducts.count": 3, "timetable.daily[1].fan": "on"})
    with record(case) as one, record(other) as two:
        yield one, two


def test_the_other_way_round_every_difference_turns_its_sign(pair) -> None:
    one, two = pair
    there, back = compare([one, two], ["a", "b"]), compare([two, one], ["b", "a"])
    some = 0
    for first, second in zip(there.answers, back.answers, strict=True):
        if first.differences[1] is not None and first.differences[1] == first.differences[1]:
            assert first.differences[1] == -second.differences[1]
            some += first.differences[1] != 0.0
    assert some > 8


def test_a_run_does_not_differ_from_itself(pair) -> None:
    same = compare([pair[0], pair[0]], ["a", "b"])
    assert same.inputs == []
    assert not any(row.differs for row in same.answers)
    assert telling(same, 1, "SI") == ["Both were given the same."]


def test_inputs_that_differ_with_their_units(pair) -> None:
    rows = {row.key: row for row in compare(pair, ["a", "b"]).inputs}
    assert set(rows) == {"ducts.count", "heat.power", "timetable.daily[1].fan"}
    assert rows["heat.power"].si == ("2 kW", "3 kW")
    # 1 BTU/h is 0.29307107 W (NIST SP 811, from memory).
    assert [float(text.split()[0]) for text in rows["heat.power"].us] == pytest.approx(
        [2000.0 / 0.29307107, 3000.0 / 0.29307107], rel=1e-4
    )
    assert rows["timetable.daily[1].fan"].si == ("off", "on")


def test_differences_are_what_the_answers_say(pair) -> None:
    row = compare(pair, ["a", "b"]).answer("fan electricity")
    # 40 W, six hours longer by nine: the fan goes on until 09:00.
    assert row.values == pytest.approx((40.0 * 6 * 3600, 40.0 * 15 * 3600))
    assert row.differences == (0.0, pytest.approx(40.0 * 9 * 3600))


def test_further_answers_and_three_runs(pair) -> None:
    three = compare([*pair, pair[0]], ["a", "b", "c"], outputs=["hours room under 15 degC"])
    row = three.answer("hours room under 15 degC")
    assert row.values[0] == row.values[2]
    data = three.as_data()
    assert data["answers"]["lowest floor"]["difference_unit"] == "K"
    assert np.isfinite(data["answers"]["lowest floor"]["values"]).all()


def test_the_fire_on_a_cold_and_on_a_saturated_floor() -> None:
    """Same fire, fuller floor: it takes a smaller share, gives back more, and the air gets hotter."""
    names = ["firing-cold-floor", "firing-saturated-floor"]
    cases = [load(ROOT / "cases" / f"{name}.toml") for name in names]
    with record(cases[0]) as cold, record(cases[1]) as full:
        told = compare([cold, full], names)
    assert [row.key for row in told.inputs] == ["ground.run_in_drive"]
    # The heater gives 24,000 BTU/h for ten hours in both, and the fan 110 W: 244,000 BTU.
    for heat in told.answer("heat put in").values:
        assert heat == pytest.approx((24000.0 * 1055.05585262 + 110.0 * 3600.0) * 10.0, rel=1e-6)
    uptake = told.answer("uptake").values
    assert uptake[1] < uptake[0]
    sentences = " ".join(telling(told, 1, "US"))
    assert "ground.run_in_drive (off here, timetable there)" in sentences
    assert "firing-saturated-floor takes the smaller share, its floor is nearer to full" in sentences
    assert "Only with firing-saturated-floor is a limit passed" in sentences
