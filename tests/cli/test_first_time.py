"""The first run of a kind says that it compiles, where a person watches; later ones say nothing."""

from __future__ import annotations

import pytest

from simulator.case.loader import load, load_text, starter_text
from simulator.cli.first_time import told_if_first
from tests.case.test_starter import switched_on, with_stove_and_house


@pytest.fixture
def said(tmp_path, monkeypatch, capsys):
    """Enter and leave the block for a case; what was told."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))

    def call(case, *, watched=True, **choice):
        monkeypatch.setattr("sys.stderr.isatty", lambda: watched, raising=False)
        with told_if_first(case, **choice):
            told = capsys.readouterr().err
        assert capsys.readouterr().err == ""
        return told

    return call


def test_once_for_each_part(said) -> None:
    plain = load_text(starter_text())
    assert "the first run here: " in said(plain)
    assert "only this once" not in said(plain)
    wet = load_text(switched_on(starter_text(), "##"))
    told = said(wet)
    assert "the first run here with moisture, a flue run and rules or upsets: " in told
    assert "half a minute" in told
    assert "they are kept, so only this once" in told
    assert said(wet) == said(plain) == ""
    either = ('## rate = "2', '## temperature = "400')
    lines = [line for line in starter_text().split("\n") if not line.startswith(either)]
    whole = load_text(with_stove_and_house("\n".join(lines)))
    assert "the first run here with a stove and a house: " in said(whole)
    assert said(whole) == ""


def test_a_folder_that_may_not_be_looked_into_is_no_reason_to_stop(said, monkeypatch) -> None:
    def refuse(self, **_):
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr("pathlib.Path.exists", refuse)
    assert said(load_text(starter_text())) == ""


def test_a_block_that_fails_counts_as_none(said, case_file, monkeypatch) -> None:
    case = load(case_file)
    with pytest.raises(KeyboardInterrupt), told_if_first(case):
        raise KeyboardInterrupt
    assert "only this once" in said(case)


def test_nothing_is_said_where_nobody_watches_or_wants_it(said, case_file) -> None:
    assert said(load(case_file), watched=False) == ""
    assert said(load_text(switched_on(starter_text(), "##")), wanted=False) == ""


def test_upsets_that_are_tried_count(said, case_file) -> None:
    case = load(case_file)
    said(case)
    assert "rules or upsets" in said(case, with_upsets=True)


def test_without_a_folder_for_compiled_loops_nothing_is_said(said, case_file, monkeypatch) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    assert said(load(case_file)) == ""
