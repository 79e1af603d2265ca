"""Line numbers of keys, against texts whose values say where they stand."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from simulator.case.loader import starter_text
from simulator.case.locate import line_of, positions


def paths_of(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[tuple[str | int, ...], Any]]:
    """Every path below a parsed TOML value, with what stands there."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found: list[tuple[tuple[str | int, ...], Any]] = []
    for part, child in inside:
        found += [((*path, part), child), *paths_of(child, (*path, part))]
    return found


TRICKY = '''\
# a = 1
"quoted [key]" = "x # no comment ]"   # comment { [
bare.dotted = 1
bare."dotted too" = [1, 2,
  3, # comment, with ] in it
  4]
long = """
[not.a.table]
key = 1 \\""" still """
plain = \'\'\'
[[not.either]]
\'\'\'
ends = """quote at the end\\""""
escaped = "a\\"b"
path = 'c:\\'

[table]
inline = { a = 1, b = { c = [2, { d = 3 }] }, e.f = 4 }
time = 07:32:00
[table.below]
x = 1
[[list]]
x = 1
[[list.inner]]
x = 1
[[list.inner]]
x = 2
[list.inner.sub]
y = 1
[[list]]
[[list.inner]]
x = 3
  [ spaced . "name" ]
  y = -1.5e3
'''
LINES = {
    ("quoted [key]",): 2, ("bare", "dotted"): 3, ("bare", "dotted too"): 4, ("bare", "dotted too", 1): 4,
    ("bare", "dotted too", 2): 5, ("bare", "dotted too", 3): 6, ("long",): 7, ("plain",): 10, ("ends",): 13,
    ("escaped",): 14, ("path",): 15, ("table",): 17, ("table", "inline"): 18,
    ("table", "inline", "b", "c", 1, "d"): 18, ("table", "inline", "e", "f"): 18, ("table", "time"): 19,
    ("table", "below"): 20, ("table", "below", "x"): 21, ("list",): 22, ("list", 0): 22, ("list", 0, "x"): 23,
    ("list", 0, "inner", 0): 24, ("list", 0, "inner", 0, "x"): 25, ("list", 0, "inner", 1, "x"): 27,
    ("list", 0, "inner", 1, "sub"): 28, ("list", 0, "inner", 1, "sub", "y"): 29, ("list", 1): 30,
    ("list", 1, "inner", 0): 31, ("list", 1, "inner", 0, "x"): 32, ("spaced", "name"): 33,
    ("spaced", "name", "y"): 34,
}  # fmt: skip


def test_tricky_text() -> None:
    found = positions(TRICKY)
    assert {path: found.get(path) for path in LINES} == LINES
    assert {path for path, _ in paths_of(tomllib.loads(TRICKY))} == set(found)


def test_nearest_parent() -> None:
    assert line_of(TRICKY, ("table", "below", "missing")) == 20
    assert line_of(TRICKY, ("list", 1, "inner", 7, "x")) == 31
    assert line_of(TRICKY, ("none",)) is None
    assert line_of("not toml [", ("none",)) is None


def test_every_key_of_the_starter_is_found_on_its_line() -> None:
    text = starter_text()
    found, lines = positions(text), text.split("\n")
    for path, value in paths_of(tomllib.loads(text)):
        line = lines[found[path] - 1]
        if isinstance(path[-1], str):
            assert path[-1] in line
        if isinstance(value, str):
            assert value in line


NAMES = st.sampled_from(["a", "b", "c-d", "e_f", "1", "g h", 'q"q', "ü"])


class _Writer:
    """Writes nested tables as TOML in a drawn style, with a number of its own for every value."""

    def __init__(self, data: st.DataObject) -> None:
        self.data = data
        self.count = 1000

    def leaf(self) -> str:
        self.count += 1
        return str(self.count)

    def key(self, name: str) -> str:
        return f'"{name}"'.replace('q"q', 'q\\"q') if name in ("g h", 'q"q', "ü") else name

    def value(self, depth: int) -> str:
        kind = self.data.draw(st.sampled_from(["leaf", "leaf", "list", "table"])) if depth < 3 else "leaf"
        if kind == "leaf":
            return self.leaf()
        if kind == "list":
            parts = [self.value(depth + 1) for _ in range(self.data.draw(st.integers(0, 3)))]
            gap = self.data.draw(st.sampled_from([", ", ",\n  ", " , # ] }\n"]))
            return "[" + gap.join(parts) + "]"
        names = self.data.draw(st.lists(NAMES, unique=True, max_size=3))
        return "{ " + ", ".join(f"{self.key(name)} = {self.value(depth + 1)}" for name in names) + " }"

    def text(self) -> str:
        lines = []
        for _ in range(self.data.draw(st.integers(0, 3))):
            name = self.data.draw(NAMES)
            if name == "a":
                lines.append("[[as]]")
            else:
                lines.append(f"[t{len(lines)}.{self.key(name)}]")
            inside = self.data.draw(st.lists(NAMES, unique=True, max_size=3))
            lines += [f"{self.key(inner)} = {self.value(0)}" for inner in inside]
        return "\n".join(lines)


@given(st.data())
def test_random_text(data: st.DataObject) -> None:
    text = _Writer(data).text()
    found = positions(text)
    parsed = paths_of(tomllib.loads(text))
    assert {path for path, _ in parsed} == set(found)
    lines = text.split("\n")
    for path, value in parsed:
        if isinstance(value, int):
            assert str(value) in lines[found[path] - 1]


def test_text_that_is_no_toml_ends() -> None:
    """The walk must neither hang nor raise on a list without values."""
    assert positions("a = [}") == {("a",): 1, ("a", 0): 1}
    assert positions("a = [1, ,") == {("a",): 1, ("a", 0): 1, ("a", 1): 1}
    assert positions("x = 1\n= 2") == {("x",): 1}
