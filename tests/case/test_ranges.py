"""Keys and their values as people type them."""

from __future__ import annotations

from pathlib import Path

import pint
import pytest

from simulator.case.changed import changed
from simulator.case.loader import load
from simulator.case.ranges import setting, variation
from simulator.case.schema import Case
from simulator.errors import CaseError

UNITS = pint.UnitRegistry()
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def shed() -> Case:
    return load(ROOT / "cases" / "overnight.toml")


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("ducts.length = 10 ft..60 ft in 6 steps", ["10 ft", "20 ft", "30 ft", "40 ft", "50 ft", "60 ft"]),
        ("ducts.length = 10..60 ft in 6", ["10 ft", "20 ft", "30 ft", "40 ft", "50 ft", "60 ft"]),
        ("ducts.length = 10 ft to 14 ft in steps of 2 ft", ["10 ft", "12 ft", "14 ft"]),
        ("ducts.length = 10..14 ft in steps of 2", ["10 ft", "12 ft", "14 ft"]),
        ("ducts.length=3,4.5,6 m", ["3 m", "4.5 m", "6 m"]),
        ("ducts.count = 2..5", [2, 3, 4, 5]),
        ("ducts.count = 4..10 in 4 steps", [4, 6, 8, 10]),
        ("count = 4, 6", [4, 6]),
        ("fan.intake = room, outside", ["room", "outside"]),
        ("ducts.drains = true, false", [True, False]),
        ("numerics.cell_scale = 0.5..1.5 in 3 steps", [0.5, 1.0, 1.5]),
        ("ground.start.mean = 38..44 degF in steps of 2", ["38 degF", "40 degF", "42 degF", "44 degF"]),
        ("timetable.daily[2].heat = off, 20000 BTU/h", ["off", "20000 BTU/h"]),
        ("weather = {kind = 'none', mean = '3 degF'}", [{"kind": "none", "mean": "3 degF"}]),
    ],
)  # fmt: skip
def test_values(shed: Case, text: str, values: list) -> None:
    assert list(variation(shed, text).values) == values


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("ducts.length = 10 ft..60 ft in 3 steps", "foot", [10, 35, 60]),
        ("ducts.depth = 12..18 in in 2 steps", "inch", [12, 18]),
        ("ground.start.mean = 38..44 degF in 2 steps", "degF", [38, 44]),
        ("room.heat_loss = 150..250 BTU/(h.F) in 2 steps", "Btu_it / hour / delta_degF", [150, 250]),
        ("fan.flow = 300..600 cfm in 2 steps", "foot**3 / minute", [300, 600]),
    ],
)
def test_numbers_are_in_si(shed: Case, text: str, unit: str, wanted: list[float]) -> None:
    # Reference: the pint library's own conversions.
    si = [
        UNITS.Quantity(value, UNITS(unit).units if unit != "degF" else UNITS.degF).to_base_units()
        for value in wanted
    ]
    assert variation(shed, text).numbers == pytest.approx([quantity.magnitude for quantity in si], rel=1e-9)


def test_several_keys_take_the_same_value(shed: Case) -> None:
    both = variation(shed, "floor.length, ducts.length = 8..10 m in 2 steps")
    assert both.keys == ("floor.length", "ducts.length")
    assert both.name == "floor.length, ducts.length"


def test_entries_by_number_and_by_name_are_the_same_key(shed: Case) -> None:
    wanted = ("ground.layers[2].conductivity",)
    for key in (
        "ground.layers[2].conductivity",
        "ground.layers.2.conductivity",
        "ground.layers[Loam].conductivity",
    ):
        assert variation(shed, f"{key} = 1 W/(m.K)").keys == wanted
    assert variation(shed, "timetable.daily[22:00].at = 21:00").keys == ("timetable.daily[2].at",)


def test_an_open_range_gets_its_steps_later(shed: Case) -> None:
    given = variation(shed, "fan.flow = 300..500 cfm")
    assert given.open
    assert given.values == ("300 cfm", "500 cfm")
    assert given.in_steps(3).values == ("300 cfm", "400 cfm", "500 cfm")


def test_one_value(shed: Case) -> None:
    assert setting(shed, "fan.flow = 400 cfm") == (("fan.flow",), "400 cfm")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("ducts.lenght = 1 m", "ducts has no key 'lenght'; did you mean 'length'?"),
        ("diamter = 1 in", "did you mean 'diameter'?"),
        ("layers = 1", "stands in more than one table; allowed: ground.layers, floor.layers"),
        ("length = 1 m", "allowed: floor.length, ducts.length"),
        ("ground.layers[5].thickness = 1 m", "ground.layers has no entry 5; allowed: 1 to 2"),
        ("ground.layers[peat].thickness = 1 m", "no entry called 'peat'; allowed: 1 (moist sand), 2 (loam)"),
        ("ducts.branches[1].name = a", "the case gives no such list"),
        ("ducts.length 10 ft", "is no key with values"),
        ("ducts.length = 10..5 ft in 3 steps", "ends below its beginning"),
        ("ducts.length = 5..10 ft in 1 steps", "fewer than 2 steps"),
        ("ducts.length = 5..10 gal in 3 steps", "a length is needed"),
        ("ducts.length = 1..2 ft in steps of 0 ft", "steps of nothing"),
        ("ducts.length = 1..2 km in 20000 steps", "up to 10000"),
        ("ducts.count = 2..4 ft", "must be a plain number"),
        ("ducts.count = 2, 2", "names a value twice"),
        ("fan.intake = room, , outside", "has an empty entry"),
        ("[ducts = 1", "is no key of a case"),
    ],
)
def test_slips_are_told(shed: Case, text: str, told: str) -> None:
    with pytest.raises(CaseError) as error:
        variation(shed, text)
    assert told in str(error.value)


@pytest.mark.parametrize("value", ["9" * 5000, "[" * 2000 + "]" * 2000])
def test_values_that_no_reader_of_numbers_takes(shed: Case, value: str) -> None:
    """A number of thousands of digits, or lists in lists, are taken as text, which no key of a case holds."""
    keys, read = setting(shed, f"ducts.count = {value}")
    assert (keys, read) == (("ducts.count",), value)


@pytest.mark.parametrize(
    "text",
    ["numerics.cell_scale = 0.5..1e400 in 3 steps", "numerics.cell_scale = 0.5..1.5 in steps of 1e-320",
     "ducts.length = 1 m..1e300 m in steps of 1e-300 m", "ducts.count = 1..1e9"],
)  # fmt: skip
def test_ranges_without_end(shed: Case, text: str) -> None:
    with pytest.raises(CaseError):
        variation(shed, text)


def test_a_number_beyond_all_numbers_is_refused_by_the_key(shed: Case) -> None:
    found = variation(shed, "ducts.count = 1, " + "9" * 400)
    assert found.numbers is None
    with pytest.raises(CaseError, match=r"ducts\.count"):
        changed(shed, {"ducts.count": found.values[1]})
