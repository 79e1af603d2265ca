"""`ductfloor new`: the starter case, never written over something unasked."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from simulator.case.loader import load


@pytest.mark.parametrize(("words", "name"), [((), "case.toml"), (("mine.toml",), "mine.toml")])
def test_it_writes_a_sound_case(ductfloor, words, name) -> None:
    outcome = ductfloor("new", *words)
    assert outcome.code == 0
    assert f"ductfloor check {name}" in outcome.out
    assert load(Path(name)).site.duration > 0.0


def test_it_refuses_to_overwrite(ductfloor) -> None:
    Path("mine.toml").write_text("precious", encoding="utf-8")
    outcome = ductfloor("new", "mine.toml")
    assert outcome.code == 2
    assert outcome.err.startswith("error: mine.toml: this file exists")
    assert "--force" in outcome.err
    assert Path("mine.toml").read_text(encoding="utf-8") == "precious"


def test_force_overwrites(ductfloor) -> None:
    Path("mine.toml").write_text("old", encoding="utf-8")
    assert ductfloor("new", "mine.toml", "--force").code == 0
    assert tomllib.loads(Path("mine.toml").read_text(encoding="utf-8"))


def test_a_missing_folder_is_named(ductfloor) -> None:
    outcome = ductfloor("new", "nowhere/mine.toml")
    assert outcome.code == 2
    assert "nowhere/mine.toml" in outcome.err
