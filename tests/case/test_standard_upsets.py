"""Standard upsets: which ones a case gets, when they happen, and that the case itself stays as it is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.case.checks import check
from simulator.case.loader import load_text
from simulator.case.schema import Case
from simulator.case.standard_upsets import CLOGGED, hottest, standard_upsets, with_upset
from tests.examples import examples

Build = Callable[..., Case]


def test_a_case_with_everything_gets_all(build_chain: Build) -> None:
    case = build_chain()
    trials = standard_upsets(case)
    assert [trial.upset.kind for trial in trials] == [
        "pump stops", "fan stops", "power cut", "cover left off", "fire over-fed", "filter clogged",
    ]  # fmt: skip
    # One load at 18:30 burns for 90 min; its middle is 19:15 of the first day.
    assert trials[0].upset.at == dt.datetime(2031, 1, 15, 19, 15)
    assert trials[2].upset.until == dt.datetime(2031, 1, 16, 3, 15)
    assert trials[3].upset.at == case.site.start
    assert (trials[4].upset.at, trials[4].upset.until, trials[4].upset.size) == (
        dt.datetime(2031, 1, 15, 18, 30), dt.datetime(2031, 1, 15, 20, 0), 1.5,
    )  # fmt: skip
    assert trials[5].upset.size == CLOGGED


def test_every_trial_is_a_sound_case(build_chain: Build) -> None:
    case = build_chain()
    for trial in standard_upsets(case):
        changed = trial.on(case)
        assert check(changed) == []
        assert changed.upsets == [trial.upset]
        assert changed.model_dump(exclude={"upsets"}) == case.model_dump(exclude={"upsets"})
        # Results must not carry the file's text, which has other upsets.
        assert changed.source_text == ""
        assert changed.resolve("weather.csv") == case.resolve("weather.csv")
        assert trial.question.endswith("?")
    assert [upset.kind for upset in case.upsets] == ["pump stops"]
    assert with_upset(case).upsets == []


def test_the_largest_pile_of_loads_is_the_hottest(build_chain: Build) -> None:
    """Loads of 4 kg at 18:30 and 6 kg at 19:30 burn together from 19:30 to 20:00."""
    two = 'load = "4 kg" },\n{ at = "19:30", load = "6 kg" },'
    case = build_chain(('load = "6 kg", cover = "on" },', two))
    stretch = hottest(case)
    assert (stretch.begin, stretch.end) == (90 * 60000, 120 * 60000)


def test_a_heater_without_fan_counts_little(build: Build) -> None:
    """8 kW while the fan stands at night, 5 kW with it by day: the day is worth trying."""
    case = build(
        add='[timetable]\ndaily = [{ at = "08:00", fan = "on", heat = "5 kW" }, '
        '{ at = "20:00", fan = "off", heat = "8 kW" }]\n'
    )
    stretch = hottest(case)
    assert stretch.begin == 14 * 3600 * 1000
    assert stretch.end == 26 * 3600 * 1000
    kinds = [trial.upset.kind for trial in standard_upsets(case)]
    assert kinds == ["fan stops", "power cut", "filter clogged"]


def test_without_heat_the_middle_of_the_run(build: Build) -> None:
    case = build(('kind = "power"\npower = "30000 BTU/h"', 'kind = "none"'))
    assert standard_upsets(case)[0].upset.at == case.site.start + dt.timedelta(days=1)


@given(
    st.dictionaries(st.integers(0, 95), st.integers(1, 12), min_size=1, max_size=6),
    st.integers(1, 72),
    st.integers(10, 600),
)
@settings(max_examples=examples(30))
def test_always_within_the_run_and_as_hot_as_anywhere(
    loads: dict[int, int], hours: int, burn_minutes: int
) -> None:
    """Against adding up what burns, minute by minute."""
    entries = ", ".join(
        f'{{ at = "{quarter // 4:02d}:{quarter % 4 * 15:02d}", load = "{mass} kg" }}'
        for quarter, mass in sorted(loads.items())
    )
    text = CHAIN_OF_A_STOVE.format(hours=hours, burn=burn_minutes, entries=entries)
    case = load_text(text)
    table = case.timetable_compiled
    for trial in standard_upsets(case):
        assert check(trial.on(case)) == []
    stretch = hottest(case)
    assert 0 <= stretch.begin <= stretch.middle < stretch.end <= table.end

    def burning(tick: float) -> float:
        return sum(mass for at, mass in table.loads if at <= tick < at + burn_minutes * 60000)

    most = max(burning(60000.0 * minute + 30000.0) for minute in range(hours * 60))
    assert burning(stretch.middle) >= most - 1e-9


CHAIN_OF_A_STOVE = """\
[site]
start = 2031-01-15T00:00:00
duration = "{hours} h"
[weather]
kind = "constant"
temperature = "0 degC"
[ground]
depth = "4 m"
bottom = {{ kind = "adiabatic" }}
start = {{ kind = "uniform", temperature = "10 degC" }}
layers = [{{ material = "loam" }}]
[floor]
width = "5 m"
length = "8 m"
[ducts]
count = 4
spacing = "1 m"
depth = "40 cm"
diameter = "10 cm"
[fan]
flow = "0.1 m3/s"
[heat]
kind = "stove"
[stove]
efficiency = 0.7
burn_time = "{burn} min"
mass = "100 kg"
surface = "2 m2"
[hood]
wall_area = "3 m2"
cross_section = "0.1 m2"
hydraulic_diameter = "0.1 m"
wall_mass = "20 kg"
[room]
kind = "fixed"
temperature = "15 degC"
[timetable]
daily = [{entries}]
"""
