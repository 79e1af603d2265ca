"""The starter case: it loads, names every key, and every switched-off line works when switched on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from simulator.case.explain import members
from simulator.case.loader import load_text, starter_text
from simulator.case.schema import Case

TEXT = starter_text()
SECTIONS = ("site", "weather", "ground", "floor", "ducts", "fan", "heat", "room", "timetable")
#: active keys to switch off beside the one that is switched on
REPLACES = {
    "lanes": ("count", "spacing", "depth"),
    "branches": ("count", "spacing", "depth"),
    "mass_flow": ("flow", "off_flow"),
    "curve": ("flow",),
    "efficiency": ("power",),
}


def keys_below(model: type[BaseModel], seen: set[type[BaseModel]]) -> set[str]:
    if model in seen:
        return set()
    seen.add(model)
    names = set(model.model_fields)
    for field in model.model_fields.values():
        for member in members(field.annotation):
            names |= keys_below(member, seen)
    return names


def test_loads_and_means_what_its_comments_say() -> None:
    case = load_text(TEXT, path="starter.toml")
    assert case.site.elevation == pytest.approx(198, abs=0.5)
    assert case.floor.width == pytest.approx(6.10, abs=0.005)
    assert case.floor.length == pytest.approx(12.19, abs=0.005)
    assert case.ducts.spacing == pytest.approx(0.71, abs=0.005)
    assert case.ducts.depth == pytest.approx(0.41, abs=0.005)
    assert case.ducts.service_temperature == pytest.approx(333.15)
    assert case.fan.flow == pytest.approx(0.151, abs=0.0005)
    assert case.heat.kind == "power"
    assert case.heat.power == pytest.approx(5860, abs=5)
    assert case.weather.kind == "daily wave"
    assert case.weather.mean == pytest.approx(273.15 - 4.4, abs=0.05)
    assert case.weather.amplitude == pytest.approx(5.0)
    assert case.room.kind == "air node"
    assert case.room.heat_loss == pytest.approx(111, abs=0.5)
    assert case.output.units == "US"


def test_every_key_is_named() -> None:
    names = keys_below(Case, set())
    assert len(names) > 90
    assert {name for name in names if not re.search(rf"\b{name}\b", TEXT)} == set()


def test_defaults_told_in_the_text_are_the_defaults() -> None:
    """Keys whose value in the text is said to be the default really have it."""
    told = load_text(TEXT)
    lines = [
        line
        for line in TEXT.split("\n")
        if not re.match(r"(outside_film|sides|run_in|run_in_drive|film|roughness|off_flow|intake|exit|gains|"
                        r"contact_resistance|wall_heat_capacity|service_temperature|sun_to_floor|step|stations|"
                        r"along_from|layout|inlet_end|surface|entry_loss|exit_loss|bend_loss|drains|curve_density|"
                        r"cell_scale|solver|symmetry|refine_after_switch|tolerance|interval|fields)\b", line)
    ]  # fmt: skip
    bare = load_text("\n".join(lines))
    assert bare.ground == told.ground
    assert bare.floor == told.floor
    assert bare.ducts == told.ducts
    assert bare.fan == told.fan
    assert bare.room == told.room
    assert bare.numerics == told.numerics
    assert bare.output == told.output


def section_lines(lines: list[str], name: str) -> range:
    first = lines.index(next(line for line in lines if line.startswith(f"[{name}]")))
    later = [number for number in range(first + 1, len(lines)) if re.match(r"\[[a-z]+\]", lines[number])]
    return range(first, later[0] if later else len(lines))


def switched_off() -> list[tuple[str, int, int]]:
    """(section, first line, last line) of every switched-off block or line."""
    lines = TEXT.split("\n")
    found = []
    for name in (*SECTIONS, "numerics", "output"):
        where = section_lines(lines, name)
        number = where.start
        while number < where.stop:
            match = re.match(r"# ([a-z_]+) = (.*)", lines[number])
            last = number
            if match and match[1] == "kind":
                while re.match(r"# (?:[a-z_]+ = |\[[a-z.]+\])", lines[last + 1]):
                    last += 1
            elif match and match[2].startswith("[") and "]" not in match[2]:
                while not lines[last].startswith("# ]"):
                    last += 1
            if match:
                found.append((name, number, last))
            number = last + 1
    return found


@pytest.mark.parametrize(("section", "first", "last"), switched_off())
def test_switched_off_lines_work(section: str, first: int, last: int, tmp_path: Path) -> None:
    lines = TEXT.split("\n")
    key = re.match(r"# ([a-z_]+)", lines[first])[1]  # type: ignore[index]
    for number in section_lines(lines, section):
        stale = section in ("weather", "heat", "room") if key == "kind" else False
        active = re.match(r"([a-z_]+) = ", lines[number])
        if active and (stale or active[1] in (key, *REPLACES.get(key, ()))):
            lines[number] = "# off"
    for number in range(first, last + 1):
        lines[number] = lines[number][2:]
    # A table below the section must not swallow the keys after it: those of the starter come before.
    for file in ("weather.csv", "typical_year.csv", "supply.csv"):
        (tmp_path / file).write_text("x", encoding="utf-8")
    case = load_text("\n".join(lines), folder=tmp_path)
    before = load_text(TEXT)
    assert case.source_text != TEXT
    if key not in ("length", "kind"):
        assert getattr(case, section) != getattr(before, section)
    if key == "kind":
        assert getattr(case, section).kind != getattr(before, section).kind


def test_there_are_switched_off_lines_in_every_choice() -> None:
    assert len(switched_off()) == 31


def test_whole_tables_can_be_switched_on() -> None:
    for left_out in (r"## (rate|temperature) = ", r"## (lit_at|burn) = |##     \{|## \]"):
        lines = [line for line in TEXT.split("\n") if not re.match(left_out, line)]
        case = load_text("\n".join(line[3:] if line.startswith("## ") else line for line in lines))
        assert case.moisture is not None
        assert case.moisture.gain == pytest.approx(1.5 / 3600.0)
        assert case.flue is not None
        assert case.flue.jacket is not None
        assert case.flue.stack is not None
        assert (case.flue.burn is None) == (case.flue.rate is not None)


def test_one_cell_between_two_ducts() -> None:
    """The note at the end of the starter, followed."""
    text = TEXT
    for old, new in (
        ("count = 8", "count = 1"),
        ('spacing = "2 ft 4 in"', ""),
        ('width = "20 ft"', 'width = "2 ft 4 in"'),
        ('outside_width = "8 ft"', 'outside_width = "0 ft"'),
        ('edge_wall = "8 in"', ""),
        ("edge_insulation = {", "# edge_insulation = {"),
    ):
        assert text.count(f"\n{old}") == 1
        text = text.replace(f"\n{old}", f"\n{new} #" if new == "" else f"\n{new}")
    case = load_text(text)
    assert case.ducts.places == [(0.0, pytest.approx(0.4064))]
    assert case.ground.sides.kind == "adiabatic"
