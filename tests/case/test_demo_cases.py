"""The cases that come with the program: each is sound, and holds what its first lines promise."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulator.case.loader import load
from simulator.case.standard_upsets import hottest

FOLDER = Path(__file__).parents[2] / "cases"
CASES = sorted(FOLDER.glob("*.toml"))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_is_sound_and_says_what_it_asks(path: Path) -> None:
    case = load(path)
    assert case.title
    first = path.read_text(encoding="utf-8").split("\n\n")[0]
    assert first.startswith("# ")
    assert all(file.is_file() for file in case.referenced_files)


def test_a_cold_week() -> None:
    case = load(FOLDER / "cold-week.toml")
    assert case.site.duration == 7 * 86400.0
    loads = case.timetable_compiled.loads
    assert len(loads) == 4 * 7
    assert case.water is not None
    assert case.room.kind == "house"
    assert case.room.has_cover
    assert case.weather.kind == "tmy3"


def test_the_pump_fails_at_full_fire() -> None:
    case = load(FOLDER / "pump-failure.toml")
    (upset,) = case.upsets
    assert upset.kind == "pump stops"
    fire = hottest(case)
    at = (upset.at - case.site.start).total_seconds() * 1000.0
    assert fire.begin < at < fire.end


def test_summer_to_autumn_has_no_fire() -> None:
    case = load(FOLDER / "summer-to-autumn.toml")
    assert case.heat.kind == "none"
    assert case.stove is None
    assert case.ground.start.kind == "settled"
    assert case.controls is not None
    assert {rule.switch for rule in case.controls.rules} == {"fan", "cover"}
