"""What is said of weather files that cannot be read."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from simulator.climate import text_file
from simulator.climate.text_file import read_text_of
from simulator.errors import CaseError


def said(path: Path) -> str:
    with pytest.raises(CaseError) as caught:
        read_text_of(path, "weather.csv")
    return str(caught.value)


def test_a_pipe_or_folder_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path, tmp_path / "pipe"):
        assert said(path) == "weather.csv: is not an ordinary file; give a file of text"


def test_a_file_as_large_as_allowed_is_read_and_no_larger(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(text_file, "LARGEST_FILE", 10)
    path = tmp_path / "weather.csv"
    path.write_text("time,air\n1")
    assert read_text_of(path, "weather.csv") == "time,air\n1"
    path.write_text("time,air\n10")
    assert said(path) == "weather.csv: the file is too large; allowed: up to 10 bytes"


def test_a_name_the_system_refuses_is_told_in_its_words(tmp_path: Path) -> None:
    assert said(tmp_path / ("w" * 5000)) == "weather.csv: cannot be read: File name too long"


def test_nothing_binary_nothing_empty_nothing_missing(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    assert said(path).startswith("weather.csv: no such file; ")
    path.write_bytes(b"time,air\n\xff")
    assert said(path) == "weather.csv: is not a text file in UTF-8 (byte 9); save it as UTF-8 text"
    path.write_text(" \n")
    assert said(path) == "weather.csv: the file is empty"
