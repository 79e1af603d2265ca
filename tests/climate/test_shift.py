"""A shifted weather file is the same weather, warmer or colder by the shift."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.answers.cold_snap import shifted_weather
from simulator.case.loader import load
from simulator.climate.weather import from_case

CASES = Path(__file__).parents[2] / "cases"


@pytest.mark.parametrize("name", ["overnight", "duct-short", "greenhouse-loops"])
@pytest.mark.parametrize("shift", [-7.5, 3.0])
def test_only_the_temperature_moves(name, shift) -> None:
    case = load(CASES / f"{name}.toml")
    before, after = from_case(case), from_case(shifted_weather(case, shift))
    ticks = np.arange(-20, 24) * 3_600_000
    begin, end = ticks[:-1], ticks[1:] - 777_000
    assert after.temperature_at(ticks) == pytest.approx(before.temperature_at(ticks) + shift)
    assert after.mean_temperature(begin, end) == pytest.approx(before.mean_temperature(begin, end) + shift)
    assert after.sun_at(ticks) == pytest.approx(before.sun_at(ticks))


def test_the_key_of_a_case_file_does_the_same(tmp_path) -> None:
    text = (CASES / "overnight.toml").read_text(encoding="utf-8")
    weather = (CASES.parent / "shared/weather/sand_point_cold_spell.csv").resolve()
    text = text.replace('"../shared/weather/sand_point_cold_spell.csv"', f'"{weather}"\nshift = "-9 degF"')
    path = tmp_path / "colder.toml"
    path.write_text(text, encoding="utf-8")
    ticks = np.arange(24) * 3_600_000
    colder, plain = (from_case(load(each)).temperature_at(ticks) for each in (path, CASES / "overnight.toml"))
    # 9 degF of difference are 5 K
    assert colder == pytest.approx(plain - 5.0)
