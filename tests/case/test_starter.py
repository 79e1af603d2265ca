"""The starter case: it loads, names every key, and every switched-off line works when switched on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

from simulator.case.explain import members
from simulator.case.fields import SiValue
from simulator.case.loader import load_text, starter_text
from simulator.case.schema import Case
from simulator.errors import CaseError

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
        if not re.match(r"(outside_film|sides|freezing|run_in|run_in_drive|film|roughness|off_flow|intake|"
                        r"exit|gains|contact_resistance|wall_heat_capacity|service_temperature|sun_to_floor|steps?|"
                        r"stations|along_from|layout|inlet_end|surface|entry_loss|exit_loss|bend_loss|drains|"
                        r"curve_density|cell_scale|"
                        r"solver|symmetry|refine_after_switch|tolerance|interval|fields)\b", line)
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
                while re.match(r"# (?:[a-z_]+ = |\[{1,2}[a-z.]+\])", lines[last + 1]):
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
    assert len(switched_off()) == 35


def with_stove_and_house(text: str) -> str:
    """Switch on every whole table, and the heat and room that go with them."""
    text = text.replace('\nkind = "power"', '\nkind = "stove"').replace('\npower = "20000', '\n# "')
    text = text.replace(', heat = "on"', ', load = "12 lb"').replace('heat = "off"', 'cover = "on"')
    first = text.index('\nkind = "air node"')
    house = text.index('\n# kind = "house"')
    last = text.index("\n\n", house)
    text = text[:first] + text[house:last].replace("\n# ", "\n") + text[last:]
    return switched_on(text, "##", "###")


def switched_on(text: str, *marks: str) -> str:
    """Take marks and the blank behind them off the lines that begin with them."""
    taken = [(f"{mark} ", len(mark) + 1) for mark in marks]
    return "\n".join(
        next((line[size:] for mark, size in taken if line.startswith(mark)), line)
        for line in text.split("\n")
    )


def test_all_that_two_marks_switch_off_can_be_switched_on_at_once() -> None:
    case = load_text(switched_on(TEXT, "##"))
    assert case.moisture is not None
    assert case.flue is not None
    assert case.controls is not None
    assert len(case.upsets) == 1
    # What else there is in the text is as it was.
    assert (case.stove, case.room, case.heat) == (None, load_text(TEXT).room, load_text(TEXT).heat)


@pytest.mark.parametrize("table", re.findall(r"(?m)^## \[+([a-z.]+)\]+", TEXT))
def test_each_table_behind_two_marks_can_be_switched_on_alone(table: str) -> None:
    lines = TEXT.split("\n")
    first = next(n for n, line in enumerate(lines) if re.match(rf"## \[+{re.escape(table)}\]", line))
    last = next(n for n in range(first + 1, len(lines)) if not re.match(r"## (?!\[)|### ", lines[n]))
    lines[first:last] = switched_on("\n".join(lines[first:last]), "##").split("\n")
    assert getattr(load_text("\n".join(lines)), table.split(".", maxsplit=1)[0])


def test_what_three_marks_switch_off_says_all_that_it_needs() -> None:
    """Taken off without the choices that go first, every one of these is named in the one message."""
    with pytest.raises(CaseError) as caught:
        load_text(switched_on(TEXT, "##", "###"), path="mine.toml")
    told = str(caught.value).split("\n")
    assert [re.match(r"mine\.toml:(\d+): ([a-z_.]+)", line)[2] for line in told] == [  # type: ignore[index]
        "room.plants", "room.wet_soil", "flue.burn",
    ]  # fmt: skip
    assert [int(line.split(":")[1]) for line in told] == sorted(int(line.split(":")[1]) for line in told)


def test_whole_tables_can_be_switched_on() -> None:
    for left_out in (r'## (rate = "2 kg|temperature = "400)', r"### (lit_at|burn) = \[|###     \{|### \]"):
        lines = [line for line in TEXT.split("\n") if not re.match(left_out, line)]
        case = load_text(with_stove_and_house("\n".join(lines)))
        assert case.moisture is not None
        assert case.moisture.gain == pytest.approx(1.5 / 3600.0)
        assert case.flue is not None
        assert case.flue.jacket is not None
        assert case.flue.stack is not None
        assert (case.flue.burn is None) == (case.flue.rate is not None)
        assert case.heat.kind == "stove"
        assert case.stove is not None
        assert case.stove.service_temperature == pytest.approx(723.15, abs=0.1)
        assert case.room.kind == "house"
        assert case.room.plants is not None
        assert [coil.name for coil in case.coils] == ["first coil"]
        assert case.controls is not None
        assert [rule.switch for rule in case.controls.rules] == ["fan", "pump"]
        assert [upset.kind for upset in case.upsets] == ["filter clogged"]


def test_defaults_told_in_whole_tables_are_the_defaults() -> None:
    """Keys of the stove, hood, coil and plants whose value in the text is the default really have it."""
    lines = [line for line in TEXT.split("\n") if not re.match(r'## (rate = "2 kg|temperature = "400)', line)]
    told = load_text(with_stove_and_house("\n".join(lines)))
    assert told.stove is not None
    assert told.hood is not None
    assert told.room.kind == "house"
    assert told.room.plants is not None
    for table, given in (
        (told.stove, {"efficiency", "mass", "surface", "service_temperature"}),
        (told.hood, {"wall_area", "cross_section", "hydraulic_diameter", "wall_mass"}),
        (
            told.coils[0],
            {"name", "conductance", "rated_air_flow", "rated_water_flow", "water_volume", "metal_mass"},
        ),
        (told.room.plants, {"leaf_area"}),
    ):
        values = {key: getattr(table, key) for key in given}
        bare = type(table).model_validate(
            {
                key: SiValue(value) if key not in ("name", "efficiency") else value
                for key, value in values.items()
            }
        )
        for key in type(table).model_fields:
            assert getattr(bare, key) == pytest.approx(getattr(table, key)), key


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
