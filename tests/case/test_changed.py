"""Changed cases against the same change made in the text by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.case.changed import changed, moved_text
from simulator.case.loader import load, load_text
from simulator.case.schema import Case
from simulator.errors import CaseError

ROOT = Path(__file__).parents[2]
SHED = ROOT / "cases" / "overnight.toml"


@pytest.fixture(scope="module")
def shed() -> Case:
    return load(SHED)


@pytest.mark.parametrize(
    ("key", "value", "old", "new"),
    [
        ("ducts.diameter", "6 in", 'diameter = "5 in"', 'diameter = "6 in"'),
        ("ducts.count", 5, "count = 6", "count = 5"),
        ("ground.layers[moist sand].thickness", "2 ft", 'thickness = "3 ft"', 'thickness = "2 ft"'),
        ("timetable.daily[2].heat", "10 kW", '"22:00", heat = "off"', '"22:00", heat = "10 kW"'),
        ("numerics.stations", 12, "[output]", "[numerics]\nstations = 12\n[output]"),
        ("room.sun_area", None, 'sun_area = "30 ft2"', ""),
    ],
)
def test_the_same_as_by_hand(shed: Case, key: str, value: object, old: str, new: str) -> None:
    by_hand = load_text(shed.source_text.replace(old, new), folder=SHED.parent)
    assert old in shed.source_text
    assert changed(shed, {key: value}).model_dump() == by_hand.model_dump()
    assert by_hand.model_dump() != shed.model_dump()


def test_the_case_itself_stays(shed: Case) -> None:
    before = shed.source_text
    changed(shed, {"ducts.count": 4})
    assert shed.source_text == before
    assert shed.ducts.count == 6


def test_its_text_reads_as_itself(shed: Case) -> None:
    made = changed(shed, {"ducts.count": 4, "weather.file": str(shed.referenced_files[0].resolve())})
    assert load_text(made.source_text).model_dump() == made.model_dump()


def test_an_error_names_file_line_and_key(shed: Case) -> None:
    line = shed.source_text[: shed.source_text.index("diameter =")].count("\n") + 1
    with pytest.raises(CaseError) as error:
        changed(shed, {"ducts.diameter": "5 W"})
    assert str(error.value).startswith(f'{SHED}:{line}: ducts.diameter = "5 W": ')
    assert "a length is needed" in str(error.value)


def test_an_error_that_shows_only_together(shed: Case) -> None:
    with pytest.raises(CaseError, match=r"ducts\.length = .60 ft.: is more than"):
        changed(shed, {"ducts.length": "60 ft"})


def test_a_case_from_python_has_no_text() -> None:
    with pytest.raises(CaseError, match="not read from a file"):
        changed(Case.model_construct(), {})


def test_files_are_found_from_another_folder(shed: Case, tmp_path: Path) -> None:
    deep = tmp_path / "a" / "b"
    deep.mkdir(parents=True)
    (deep / "moved.toml").write_text(moved_text(shed, deep), encoding="utf-8")
    moved = load(deep / "moved.toml")
    assert moved.referenced_files[0].resolve() == shed.referenced_files[0].resolve()
