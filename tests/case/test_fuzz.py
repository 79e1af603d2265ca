"""Whatever a case file holds: a case, or one message that names the file; never anything else."""

from __future__ import annotations

import math
import re
import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.case.loader import load_text, starter_text
from simulator.case.locate import positions
from simulator.case.schema import Case
from simulator.errors import CaseError
from tests.examples import examples

LINES = starter_text().split("\n")
ASSIGNED = [number for number, line in enumerate(LINES) if re.match(r"\s*[a-z_]+ = ", line)]
VALUES = st.sampled_from(
    [
        "nan",
        "inf",
        "-inf",
        "0",
        "-1",
        "1e308",
        "99999999999999999999999999",
        "true",
        "false",
        '""',
        '"x"',
        "[]",
        "{}",
        "[[]]",
        "[1, 2]",
        '{ kind = "temperature" }',
        "{ kind = 3 }",
        "{ kind = [] }",
        "{ kind = {} }",
        "1979-05-27",
        "07:32:00",
        "1979-05-27T07:32:00Z",
        "2031-01-16T07:32:00",
        '"-1 ft"',
        '"0 ft"',
        '"1e17 ft"',
        '"nan ft"',
        '"5 degF"',
        '"5 W"',
        '"\\u0000"',
        '"12:00"',
        '"off"',
        '"a/../b"',
        "'''\nlong\n'''",
        '"R-1"',
        '"0 s"',
        "1_000",
        '"1e-300 m"',
        '"1e-18 s"',
        '"9 years"',
        "[{}]",
        '[{ at = "06:00" }]',
        "[3]",
        '["a"]',
        '"room below 8 degC"',
        '"room below"',
        '"cross flow"',
        '"batches"',
        '"steady"',
        '"logs"',
        '"pump"',
        '"cover"',
        '"2 kg/h"',
        '"30 deg"',
        "0.5",
    ]
)


def outcome(text: str) -> Case | CaseError:
    try:
        return load_text(text, path="fuzz.toml")
    except CaseError as error:
        return error


def attempt(text: str) -> None:
    found = outcome(text)
    if isinstance(found, CaseError):
        message = str(found)
        # A line for each problem: none of them goes over two lines, whatever the values hold.
        told = message.split("\n")
        assert all(line.startswith("fuzz.toml:") for line in told)
        assert len(told) == 1 + min(len(found.others), 20)
        assert found.problem
        assert found.line is None or 1 <= found.line <= text.count("\n") + 1
    else:
        assert math.isfinite(found.floor.area)
        assert found.timetable_compiled.end > 0


@given(st.lists(st.tuples(st.sampled_from(ASSIGNED), VALUES), min_size=1, max_size=3))
@settings(max_examples=examples(200))
def test_values_of_every_sort(changes: list[tuple[int, str]]) -> None:
    lines = list(LINES)
    for number, value in changes:
        lines[number] = lines[number].split("=")[0] + "= " + value
    attempt("\n".join(lines))


@given(st.lists(st.tuples(st.integers(0, 120), VALUES), min_size=1, max_size=3))
@settings(max_examples=examples(150))
def test_values_of_every_sort_in_the_heat_chain(chain: str, changes: list[tuple[int, str]]) -> None:
    lines = chain.split("\n")
    assigned = [number for number, line in enumerate(lines) if re.match(r"[a-z_]+ = [^\[]", line)]
    for place, value in changes:
        number = assigned[place % len(assigned)]
        lines[number] = lines[number].split("=")[0] + "= " + value
    attempt("\n".join(lines))


@given(st.lists(st.integers(0, 120), min_size=1, max_size=6), st.integers(0, 120))
@settings(max_examples=examples(80))
def test_lines_of_the_heat_chain_left_out_and_moved(chain: str, left_out: list[int], where: int) -> None:
    lines = chain.split("\n")
    kept = [line for number, line in enumerate(lines) if number not in left_out]
    attempt("\n".join(kept))
    kept.insert(where, lines[left_out[0] % len(lines)])
    attempt("\n".join(kept))


@given(st.lists(st.integers(0, len(LINES) - 1), min_size=1, max_size=6), st.integers(0, len(LINES) - 1))
@settings(max_examples=examples(100))
def test_lines_left_out_and_put_elsewhere(left_out: list[int], where: int) -> None:
    lines = [line for number, line in enumerate(LINES) if number not in left_out]
    attempt("\n".join(lines))
    lines.insert(where, LINES[left_out[0]])
    attempt("\n".join(lines))


@given(st.integers(0, len(starter_text())), st.text(max_size=8), st.integers(0, 8))
@settings(max_examples=examples(150))
def test_letters_changed(place: int, letters: str, gone: int) -> None:
    text = starter_text()
    attempt(text[:place] + letters + text[place + gone :])


@given(st.text())
@settings(max_examples=examples(100))
def test_any_text(text: str) -> None:
    attempt(text)


@given(st.text(alphabet="ab=\"[]{}.,\n# '1", max_size=40))
@settings(max_examples=examples(200))
def test_positions_cover_whatever_is_toml(text: str) -> None:
    found = positions(text)
    try:
        parsed = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError):
        return

    def walk(value: Any, path: tuple[str | int, ...]) -> None:
        if path:
            assert path in found
        for part, child in (
            value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        ):
            walk(child, (*path, part))

    walk(parsed, ())
