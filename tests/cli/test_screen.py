"""What reaches the screen: folded, aligned, plain, and JSON that any reader takes."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from simulator.cli import screen


def test_text_folds_at_80_columns_and_keeps_units_with_their_numbers(capsys) -> None:
    screen.paragraph("warm " * 14 + "12 kWh of heat", first="  note  ")
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 2
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("  note  warm")
    assert lines[1].startswith("        ")
    assert any("12 kWh" in line for line in lines)


def test_text_from_a_file_cannot_drive_the_terminal(capsys) -> None:
    screen.heading("barn\x1b[31m\r\nfloor\x07")
    screen.paragraph("a\x1b]0;title\x07b")
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\x07" not in out
    assert "\r" not in out


def test_columns_line_up(capsys) -> None:
    screen.table(("what", "how much"), [("a", "1"), ("longer", "12345678901")])
    lines = capsys.readouterr().out.splitlines()
    assert len({len(line) for line in lines}) == 1
    assert lines[1].startswith("  a ")
    assert lines[1].endswith(" 1")


@dataclass
class Thing:
    size: float
    place: Path


def test_json_holds_plain_values_and_null_for_what_is_no_number(capsys) -> None:
    screen.print_json(
        {
            "nan": float("nan"),
            "inf": np.float64("inf"),
            "count": np.int64(3),
            "flag": np.bool_(True),
            "values": np.array([1.0, np.nan]),
            "at": datetime(2031, 1, 15, 18),
            "moment": np.datetime64("2031-01-15T18:00"),
            "things": [Thing(2.0, Path("a.h5"))],
            "pair": (1, None),
        }
    )
    assert json.loads(capsys.readouterr().out) == {
        "nan": None,
        "inf": None,
        "count": 3,
        "flag": True,
        "values": [1.0, None],
        "at": "2031-01-15T18:00:00",
        "moment": "2031-01-15T18:00",
        "things": [{"size": 2.0, "place": "a.h5"}],
        "pair": [1, None],
    }


def test_no_bar_when_nobody_watches(capsys) -> None:
    with screen.progress_bar("night") as progress:
        assert progress is None
    assert capsys.readouterr().err == ""


def watched(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "xterm")


def test_a_bar_on_stderr_when_somebody_watches(monkeypatch, capsys) -> None:
    watched(monkeypatch)
    with screen.progress_bar("night") as progress:
        assert progress is not None
        for done in (0.0, 0.5, 1.0, 1.7):
            progress(done)
    streams = capsys.readouterr()
    assert streams.out == ""
    assert "night" in streams.err
    assert "100%" in streams.err


def test_no_bar_when_quiet_or_on_a_simple_terminal(monkeypatch) -> None:
    watched(monkeypatch)
    with screen.progress_bar("night", wanted=False) as progress:
        assert progress is None
    monkeypatch.setenv("TERM", "dumb")
    with screen.progress_bar("night") as progress:
        assert progress is None


@pytest.mark.parametrize(("no_color", "styled"), [("", True), ("1", False)])
def test_no_color_is_honoured(monkeypatch, capsys, no_color, styled) -> None:
    seen = []
    monkeypatch.setenv("NO_COLOR", no_color)
    monkeypatch.setattr(screen.typer, "secho", lambda text, **style: seen.append(style))
    screen.heading("Heat")
    assert bool(seen) is styled
