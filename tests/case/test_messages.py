"""What a wrong case file is told: file, line, key, value, what is allowed, the likely fix."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from simulator.case.loader import load, load_text, starter_text
from simulator.errors import CaseError, DuctfloorError, SolverError, StoreError

Refusal = Callable[..., str]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            'diameter = "4 in"',
            'diamter = "4 in"',
            "workshop.toml:24: ducts.diamter: unknown key 'diamter'; did you mean 'diameter'?",
        ),
        (
            'flow = "300 cfm"',
            'flow = "-3 cfm"',
            'workshop.toml:26: fan.flow = "-3 cfm": must be above 0 m3/s; allowed: above 0, up to 50 m3/s',
        ),
        (
            'flow = "300 cfm"',
            'flow = "300000 cfm"',
            (
                'workshop.toml:26: fan.flow = "300000 cfm": must not be above 50 m3/s; '
                "allowed: above 0, up to 50 m3/s"
            ),
        ),
        (
            'flow = "300 cfm"',
            'flow = "300 cmf"',
            "workshop.toml:26: fan.flow = \"300 cmf\": unknown unit 'cmf'; did you mean 'cfm'?",
        ),
        (
            "count = 6",
            "count = 6.5",
            "workshop.toml:21: ducts.count = 6.5: must be a whole number; allowed: 1 to 2000",
        ),
        (
            "count = 6",
            "count = true",
            "workshop.toml:21: ducts.count = true: must be a whole number; allowed: 1 to 2000",
        ),
        (
            "count = 6",
            "count = 0",
            "workshop.toml:21: ducts.count = 0: must not be below 1; allowed: 1 to 2000",
        ),
        (
            "count = 6",
            "count = 99999999999999999999999",
            "workshop.toml:21: ducts.count = 99999999999999999999999: is too large; allowed: 1 to 2000",
        ),
        (
            "count = 6",
            "count = nan",
            "workshop.toml:21: ducts.count = nan: must be a whole number; allowed: 1 to 2000",
        ),
        (
            'depth = "18 in"',
            "depth = 18",
            (
                "workshop.toml:23: ducts.depth = 18: has no unit; write it with a unit in quotes, for "
                'example "2 m"'
            ),
        ),
        (
            'temperature = "20 degF"',
            'temperature = "200 degC"',
            (
                'workshop.toml:7: weather.temperature = "200 degC": must not be above 150 degC; '
                "allowed: -100 to 150 degC"
            ),
        ),
        (
            'duration = "2 days"',
            'duration = "0.1 s"',
            'workshop.toml:4: site.duration = "0.1 s": must not be below 1 s; allowed: 1 s to 7305 days',
        ),
        (
            'kind = "constant"',
            'kind = "steady"',
            (
                'workshop.toml:6: weather.kind = "steady": is no known kind; allowed: "constant", '
                '"daily wave", '
                '"csv", "tmy3"'
            ),
        ),
        (
            'kind = "constant"',
            'kind = "Daily_wave"',
            (
                'workshop.toml:6: weather.kind = "Daily_wave": is no known kind; allowed: "constant", '
                '"daily wave", '
                '"csv", "tmy3"; did you mean \'daily wave\'?'
            ),
        ),
        (
            'kind = "constant"\n',
            "",
            'workshop.toml:5: weather.kind: is missing; allowed: "constant", "daily wave", "csv", "tmy3"',
        ),
        (
            'kind = "constant"',
            "kind = 3",
            (
                'workshop.toml:6: weather.kind = 3: is no known kind; allowed: "constant", "daily wave", '
                '"csv", "tmy3"'
            ),
        ),
        (
            'temperature = "20 degF"',
            'temperature = "20 degF"\namplitude = "5 K"',
            (
                "workshop.toml:8: weather.amplitude: unknown key 'amplitude'; it belongs to kind = \"daily "
                'wave"'
            ),
        ),
        (
            'temperature = "20 degF"',
            'temperature = "20 degF"\nflow = "5 cfm"',
            "workshop.toml:8: weather.flow: unknown key 'flow'; it belongs to [fan]",
        ),
        (
            'temperature = "20 degF"',
            'temperature = "20 degF"\nroom = 3',
            "workshop.toml:8: weather.room: unknown key 'room'; it is a table of its own: [room]",
        ),
        (
            'temperature = "20 degF"',
            'temperature = "20 degF"\nxyzzy = 3',
            (
                "workshop.toml:8: weather.xyzzy: unknown key 'xyzzy'; "
                "allowed: kind, temperature, sun, wind, cloud"
            ),
        ),
        (
            'temperature = "50 degF"',
            'temperature = "50 cfm"',
            (
                "workshop.toml:10: ground.bottom.temperature = \"50 cfm\": 'cfm' is a unit of volume flow, "
                "but a temperature is needed; use one of degC, degF, K"
            ),
        ),
        (
            'bottom = { kind = "temperature", temperature = "50 degF" }',
            'bottom = { kind = "temperature" }',
            (
                "workshop.toml:10: ground.bottom.temperature: is missing; give temperature "
                "(temperature of the boundary)"
            ),
        ),
        (
            'bottom = { kind = "temperature", temperature = "50 degF" }',
            'bottom = "50 degF"',
            'workshop.toml:10: ground.bottom = "50 degF": must be a table of keys',
        ),
        (
            '{ material = "sand", thickness = "2 ft" }',
            '{ material = "snad", thickness = "2 ft" }',
            (
                'workshop.toml:13: ground.layers[1].material = "snad": is no known material; did you mean '
                "'sand'?"
            ),
        ),
        (
            '{ material = "loam" }',
            '{ material = "unobtainium" }',
            (
                'workshop.toml:14: ground.layers[2].material = "unobtainium": is no known material; '
                "give conductivity, density and specific_heat instead"
            ),
        ),
        (
            '{ material = "loam" }',
            '{ density = "1500 kg/m3" }',
            (
                "workshop.toml:14: ground.layers[2]: needs a material, or a conductivity; "
                'for example material = "concrete"'
            ),
        ),
        (
            '{ material = "loam" }',
            '{ conductivity = "1 W/(m.K)", density = "1500 kg/m3" }',
            (
                "workshop.toml:14: ground.layers[2]: needs density and specific_heat, or heat_capacity; "
                "or name a material beside them"
            ),
        ),
        (
            '{ material = "loam" }',
            '{ material = "loam", heat_capacity = "2 MJ/(m3.K)", density = "1500 kg/m3" }',
            (
                'workshop.toml:14: ground.layers[2].heat_capacity = "2 MJ/(m3.K)": '
                "is given beside density or specific_heat; give one or the other"
            ),
        ),
        (
            '    { material = "sand", thickness = "2 ft" },\n    { material = "loam" },\n',
            "",
            "workshop.toml:12: ground.layers: has too few entries; allowed: at least 1",
        ),
        (
            "start = 2031-01-15T18:00:00",
            "start = 2031-01-15T18:00:00Z",
            (
                "workshop.toml:3: site.start = 2031-01-15T18:00:00+00:00: has a time zone; "
                "a case uses local standard time; leave out the zone"
            ),
        ),
        (
            "start = 2031-01-15T18:00:00",
            "start = 1031-01-15T18:00:00",
            "workshop.toml:3: site.start = 1031-01-15T18:00:00: is out of range; allowed: years 1900 to 2200",
        ),
        (
            "start = 2031-01-15T18:00:00",
            "start = 2031-01-15",
            (
                "workshop.toml:3: site.start = 2031-01-15: is not a date and time; "
                "write a date and time without quotes, for example 2031-01-15T18:00:00"
            ),
        ),
        ('title = "Workshop"', "title = 3", "workshop.toml:1: title = 3: must be text in quotes"),
        (
            'title = "Workshop"',
            'title = "a\\u001bb"',
            'workshop.toml:1: title = "a?b": holds a control character',
        ),
        (
            'flow = "300 cfm"',
            'flow = "300 cfm"\nintake = "garage"',
            'workshop.toml:27: fan.intake = "garage": is not understood; allowed: "room", "outside"',
        ),
        (
            'flow = "300 cfm"',
            'flow = "300 cfm"\nmass_flow = "0.2 kg/s"',
            'workshop.toml:27: fan.mass_flow = "0.2 kg/s": is given beside flow; give one or the other',
        ),
        (
            'flow = "300 cfm"',
            'flow = "300 cfm"\noff_flow = "0.01 kg/s"',
            'workshop.toml:27: fan.off_flow = "0.01 kg/s": must be a volume flow, like the full flow',
        ),
        (
            'flow = "300 cfm"',
            'flow = "300 cfm"\noff_flow = "301 cfm"',
            'workshop.toml:27: fan.off_flow = "301 cfm": is more than the full flow',
        ),
        (
            'flow = "300 cfm"',
            'power = "90 W"',
            'workshop.toml:25: fan: needs flow, or mass_flow, or a curve; for example flow = "300 cfm"',
        ),
        (
            "count = 6\n",
            "",
            "workshop.toml:20: ducts: needs count, or lanes; for example count = 6",
        ),
        (
            'spacing = "2 ft"\n',
            "",
            "workshop.toml:20: ducts: needs spacing for 6 ducts, centre to centre",
        ),
        (
            "count = 6\n",
            'count = 6\nlanes = [{ across = "0 m", depth = "1 ft" }]\n',
            "workshop.toml:21: ducts.count = 6: is given beside lanes; give count, spacing, depth, or lanes",
        ),
        (
            "[ducts]",
            "[duct]",
            "workshop.toml:20: duct: unknown table or key 'duct'; did you mean 'ducts'?",
        ),
        (
            'length = "40 ft 6 in"',
            'length = "40 ft 6 in"\nedge_insulation = 3',
            "workshop.toml:19: floor.edge_insulation = 3: must be a table of keys",
        ),
        (
            'layers = [{ material = "concrete", thickness = "4 in" }]',
            'layers = "concrete"',
            'workshop.toml:19: floor.layers = "concrete": must be a list',
        ),
        (
            'start = { kind = "uniform", temperature = "55 degF" }',
            'start = { kind = "profile", depths = ["0 m", "0 m"], temperatures = ["10 degC", "9 degC"] }',
            "workshop.toml:11: ground.start.depths: must rise from entry to entry",
        ),
        (
            'start = { kind = "uniform", temperature = "55 degF" }',
            'start = { kind = "profile", depths = ["0 m", "1 m"], temperatures = ["10 degC"] }',
            "workshop.toml:11: ground.start.temperatures: has too few entries; allowed: at least 2",
        ),
    ],
)
def test_message(refusal: Refusal, old: str, new: str, message: str) -> None:
    assert refusal((old, new)) == message


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            '[timetable]\ndaily = [\n{ at = "06:00", fan = "on" },\n{ at = "05:00", fan = "off" },\n]\n',
            'workshop.toml:36: timetable.daily[2].at = "05:00": must be later than the entry before it',
        ),
        (
            '[timetable]\ndaily = [{ at = "24:00", fan = "on" }]\n',
            (
                'workshop.toml:34: timetable.daily[1].at = "24:00": is not a time of day; '
                'allowed: "00:00" to "23:59"'
            ),
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00" }]\n',
            (
                "workshop.toml:34: timetable.daily[1]: sets nothing; "
                "give fan, heat, supply_temperature, load, feed, pump or cover"
            ),
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00", fan = 2 }]\n',
            "workshop.toml:34: timetable.daily[1].fan = 2: must not be above 1.5; allowed: 0 to 1.5",
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00", fan = "half" }]\n',
            (
                'workshop.toml:34: timetable.daily[1].fan = "half": is not understood; '
                'allowed: "on", "off" or a number 0 to 1.5'
            ),
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00", heat = "low" }]\n',
            (
                'workshop.toml:34: timetable.daily[1].heat = "low": is not understood; '
                'allowed: "on", "off" or a power'
            ),
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00", heat = "5 K" }]\n',
            (
                "workshop.toml:34: timetable.daily[1].heat = \"5 K\": 'K' is a unit of temperature "
                "difference, "
                "but a power is needed; use one of W, kW, BTU/h"
            ),
        ),
        (
            '[timetable]\ndaily = [{ at = "06:00", heat = "on", supply_temperature = "50 degC" }]\n',
            (
                'workshop.toml:34: timetable.daily[1].supply_temperature = "50 degC": is given beside heat; '
                "give one or the other"
            ),
        ),
        (
            (
                '[[timetable.dated]]\nat = 2031-01-16T00:00:00\nfan = "on"\n\n'
                '[[timetable.dated]]\nat = 2031-02-16T00:00:00\nfan = "off"\n'
            ),
            (
                "workshop.toml:38: timetable.dated[2].at = 2031-02-16T00:00:00: lies outside the run; "
                "allowed: 2031-01-15T18:00:00 to 2031-01-17T18:00:00"
            ),
        ),
        (
            '[[timetable.dated]]\nat = 2031-01-16T00:00:00\nfan = "on"\n',
            (
                "workshop.toml:33: timetable.start: nothing says what the fan does before its first "
                "dated entry; "
                'give timetable.start, for example { fan = "off" }'
            ),
        ),
        (
            '[numerics]\nsolver = "fast"\n',
            (
                'workshop.toml:34: numerics.solver = "fast": is not understood; allowed: "auto", "reduced", '
                '"full", "direct"'
            ),
        ),
        (
            "[numerics]\ncell_scale = nan\n",
            "workshop.toml:34: numerics.cell_scale = nan: must be a finite number; allowed: 0.2 to 4",
        ),
        (
            "[numerics]\ncell_scale = inf\n",
            "workshop.toml:34: numerics.cell_scale = inf: must be a finite number; allowed: 0.2 to 4",
        ),
        (
            '[numerics]\ncell_scale = "1"\n',
            (
                'workshop.toml:34: numerics.cell_scale = "1": must be a plain number; allowed: 0.2 to 4; '
                "write it without quotes"
            ),
        ),
        (
            "[numerics]\nsymmetry = 1\n",
            "workshop.toml:34: numerics.symmetry = 1: must be true or false; write it without quotes",
        ),
    ],
)
def test_message_for_added_lines(refusal: Refusal, lines: str, message: str) -> None:
    assert refusal(add=lines) == message


def test_all_problems_in_the_order_of_the_lines(refusal: Refusal) -> None:
    text = refusal(
        ('power = "30000 BTU/h"', "power = 3"), ('depth = "18 in"', 'deepth = "18 in"'), ("6\n", "0\n")
    )
    assert text == (
        "workshop.toml:21: ducts.count = 0: must not be below 1; allowed: 1 to 2000\n"
        "workshop.toml:23: ducts.deepth: unknown key 'deepth'; did you mean 'depth'?\n"
        'workshop.toml:29: heat.power = 3: has no unit; write it with a unit in quotes, for example "2 W"'
    )


def test_missing_table(refusal: Refusal) -> None:
    assert refusal(("[fan]\n", ""), ('flow = "300 cfm"\n', "")) == (
        "workshop.toml: fan: is missing; give fan (what moves the air)"
    )


def test_crlf_lines_are_counted(small: str) -> None:
    with pytest.raises(CaseError, match=r"^a\.toml:21: ducts\.count = 0"):
        load_text(small.replace("count = 6", "count = 0").replace("\n", "\r\n"), path="a.toml")


def test_no_path_still_names_the_line(small: str) -> None:
    with pytest.raises(CaseError, match=r"^line 21: ducts\.count = 0: must not be below 1"):
        load_text(small.replace("count = 6", "count = 0"))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("width = 20 ft\n", "a.toml:1: is not TOML: expected newline or end of document after a statement; "),
        (
            "a = 1\nb = \n",
            "a.toml:2: is not TOML: invalid value; keys are written name = value, quantities in",
        ),
        ("a = 1\na = 2\n", "a.toml:2: is not TOML: cannot overwrite a value"),
        ('a = "x\n', "a.toml:1: is not TOML: "),
        ("a = " + "[" * 5000, "a.toml: is not TOML that can be read: is nested too deeply"),
        ("a = " + "9" * 5000, "a.toml: is not TOML that can be read: holds an unusable number or date"),
    ],
)
def test_text_that_is_no_toml(text: str, message: str) -> None:
    with pytest.raises(CaseError) as caught:
        load_text(text, path="a.toml")
    assert str(caught.value).startswith(message)


class TestFiles:
    def test_missing(self, tmp_path: Path) -> None:
        path = tmp_path / "none.toml"
        with pytest.raises(CaseError) as caught:
            load(path)
        assert str(caught.value) == f"{path}: there is no such file; check the spelling and the folder"

    def test_folder(self, tmp_path: Path) -> None:
        with pytest.raises(CaseError, match="is a folder, not a case file"):
            load(tmp_path)

    def test_impossible_name(self) -> None:
        with pytest.raises(CaseError, match=r"cannot be read|no such file"):
            load("a\0b.toml")

    def test_not_utf8(self, tmp_path: Path) -> None:
        path = tmp_path / "latin.toml"
        path.write_bytes(b'# one\ntitle = "caf\xe9"\n')
        with pytest.raises(CaseError) as caught:
            load(path)
        assert str(caught.value) == f"{path}:2: is not UTF-8 text; save the file as UTF-8"

    def test_too_large(self, tmp_path: Path) -> None:
        path = tmp_path / "large.toml"
        path.write_bytes(b"#" * 5_000_001)
        with pytest.raises(CaseError, match="is too large for a case file; allowed: up to 1 MB"):
            load(path)

    def test_huge(self, tmp_path: Path) -> None:
        """Fifty megabytes, and a terabyte of nothing: refused by their size, unread."""
        path = tmp_path / "huge.toml"
        for size in (50_000_000, 2**40):
            with path.open("wb") as file:
                file.truncate(size)
            with pytest.raises(CaseError, match="is too large for a case file"):
                load(path)

    def test_byte_order_mark_is_welcome(self, tmp_path: Path, small: str) -> None:
        path = tmp_path / "bom.toml"
        path.write_bytes(b"\xef\xbb\xbf" + small.encode())
        case = load(path)
        assert case.source_text == small
        assert case.source_path == str(path)

    @pytest.mark.parametrize("kind", ["missing", "folder"])
    def test_named_file(self, tmp_path: Path, small: str, kind: str) -> None:
        text = small.replace('kind = "constant"\ntemperature = "20 degF"', 'kind = "tmy3"\nfile = "year.csv"')
        path, year = tmp_path / "case.toml", tmp_path / "year.csv"
        path.write_text(text, encoding="utf-8")
        if kind == "folder":
            year.mkdir()
        problem = f"{year} is not a file" if kind == "folder" else f"there is no file {year}"
        with pytest.raises(CaseError) as caught:
            load(path)
        assert str(caught.value) == (
            f'{path}:7: weather.file = "year.csv": {problem}; names count from the case file\'s folder'
        )

    def test_named_files_count_from_the_case_file(self, tmp_path: Path, small: str) -> None:
        text = small.replace(
            'kind = "power"\npower = "30000 BTU/h"',
            'kind = "supply series"\nfile = "s.csv"\n[heat.columns]\n'
            'time = { column = "t", unit = "h" }\ntemperature = { column = "T", unit = "degF" }',
        )
        (tmp_path / "s.csv").write_text("t,T\n0,100\n", encoding="utf-8")
        assert load_text(text, folder=tmp_path).referenced_files == [tmp_path / "s.csv"]
        with pytest.raises(CaseError, match=r'^line 29: heat\.file = "s\.csv": there is no file s\.csv'):
            load_text(text)
        with pytest.raises(
            CaseError, match=r"line 32: heat\.columns\.temperature\.unit = \"W\": 'W' is a unit of"
        ):
            load_text(text.replace('unit = "degF" }', 'unit = "W" }'), folder=tmp_path)


def test_starter_misspelt_material_in_a_list_of_tables() -> None:
    text = starter_text().replace('material = "concrete", thickness', 'materail = "concrete", thickness')
    line = next(n for n, found in enumerate(text.split("\n"), start=1) if 'materail = "concrete"' in found)
    with pytest.raises(CaseError) as caught:
        load_text(text, path="c.toml")
    assert str(caught.value).startswith(
        f"c.toml:{line}: floor.layers[1].materail: unknown key 'materail'; did you mean 'material'?"
    )


class TestErrors:
    def test_parts(self) -> None:
        error = CaseError(
            "bad", file="a.toml", line=3, key="x.y", value="v", allowed="1 to 2", fix="do", more=1
        )
        assert str(error) == 'a.toml:3: x.y = "v": bad; allowed: 1 to 2; do (and 1 more problem)'
        assert str(CaseError("bad")) == "bad"
        others = [CaseError("worse", file="a.toml", line=4)] * 22
        lines = str(CaseError("bad", others=others)).split("\n")
        assert lines[:2] == ["bad", "a.toml:4: worse"]
        assert lines[20:] == ["a.toml:4: worse (and 2 more problems)"]
        assert str(CaseError("bad", value="v")) == '"v": bad'
        assert str(CaseError("bad", file="a.csv", key="x")) == "a.csv: x: bad"

    def test_long_and_strange_values_stay_on_one_line(self) -> None:
        text = str(CaseError("bad", key="x", value="a\nb" * 100))
        assert "\n" not in text
        assert len(text) < 100

    def test_solver_and_store(self) -> None:
        assert str(SolverError("not finite", time="day 2", fix="halve the step")) == (
            "at day 2: not finite; halve the step"
        )
        assert str(SolverError("not finite")) == "not finite"
        assert str(StoreError("is no results file", path="a.h5", fix="run again")) == (
            "a.h5: is no results file; run again"
        )
        assert str(StoreError("full")) == "full"


@pytest.mark.parametrize("letters", ["\n", "\x1b[2J", "\x7f", "\u202e", "\x85", "\ud800"])
def test_a_message_is_one_line_of_letters(letters: str) -> None:
    """Text of a file or a command line cannot move the cursor, or begin another line."""
    for error in (
        CaseError(f"a{letters}b", key=f"k{letters}", value=letters, fix=letters),
        StoreError(f"a{letters}b", path=f"x{letters}"),
        SolverError(f"a{letters}b"),
        DuctfloorError(f"a{letters}b"),
    ):
        assert str(error).isprintable()
        assert "a?" in str(error)


def test_a_message_is_not_as_long_as_what_it_quotes() -> None:
    message = str(CaseError("no such heading", allowed="x" * 100_000, fix="look at line 1"))
    assert len(message) < 2000
    assert message.startswith("no such heading")
    assert message.endswith("look at line 1")
