from __future__ import annotations

from collections.abc import Callable

import pytest

from simulator.case.loader import load_text
from simulator.case.schema import Case
from simulator.errors import CaseError

SMALL = """\
title = "Workshop"
[site]
start = 2031-01-15T18:00:00
duration = "2 days"
[weather]
kind = "constant"
temperature = "20 degF"
[ground]
depth = "10 ft"
bottom = { kind = "temperature", temperature = "50 degF" }
start = { kind = "uniform", temperature = "55 degF" }
layers = [
    { material = "sand", thickness = "2 ft" },
    { material = "loam" },
]
[floor]
width = "20 ft"
length = "40 ft 6 in"
layers = [{ material = "concrete", thickness = "4 in" }]
[ducts]
count = 6
spacing = "2 ft"
depth = "18 in"
diameter = "4 in"
[fan]
flow = "300 cfm"
[heat]
kind = "power"
power = "30000 BTU/h"
[room]
kind = "fixed"
temperature = "60 degF"
"""


def change(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} must stand in the text once"
        text = text.replace(old, new)
    return text


@pytest.fixture
def small() -> str:
    """A short sound case."""
    return SMALL


@pytest.fixture
def build() -> Callable[..., Case]:
    """Load the short case with pieces of its text replaced, and lines added at its end."""

    def make(*changes: tuple[str, str], add: str = "") -> Case:
        return load_text(change(SMALL, *changes) + add, path="workshop.toml")

    return make


@pytest.fixture
def refusal(build: Callable[..., Case]) -> Callable[..., str]:
    """The message for the short case with pieces of its text replaced, and lines added at its end."""

    def make(*changes: tuple[str, str], add: str = "") -> str:
        with pytest.raises(CaseError) as caught:
            build(*changes, add=add)
        return str(caught.value)

    return make
