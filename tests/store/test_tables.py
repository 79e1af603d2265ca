"""One table in three formats, read back by the formats' own libraries."""

from __future__ import annotations

import csv
import json

import h5py
import pytest

from simulator.errors import StoreError
from simulator.store.tables import Column, as_data, write_csv, write_hdf5, write_json

COLUMNS = [
    Column("member", (1, 2, 3), "1", "number"),
    Column("lowest floor", (6.625, None, -0.1), "degC", "lowest of the floor"),
    Column("W/K", (1.0, 2.0, float("nan")), "W/K", "with a slash"),
    Column("worst", ("none", "=1+1", 'a "b", c'), "", "words"),
]


def test_all_three_agree(tmp_path) -> None:
    write_csv(COLUMNS, tmp_path / "a.csv")
    write_json(as_data(COLUMNS, {"title": "T"}), tmp_path / "a.json")
    write_hdf5(COLUMNS, {"title": "T", "varied": ["a"]}, tmp_path / "a.h5")
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as file:
        head, *body = list(csv.reader(file))
    rows = json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["rows"]
    assert head == ["member", "lowest floor [degC]", "W/K [W/K]", "worst"]
    with h5py.File(tmp_path / "a.h5") as file:
        floors = file["lowest floor"][:]
        assert file["lowest floor"].attrs["units"] == "degC"
        assert file["lowest floor"].attrs["long_name"] == "lowest of the floor"
        assert file["lowest floor"].dims[0][0].name == "/member"
        assert file.attrs["title"] == "T"
        words = [word.decode() for word in file["worst"][:]]
        assert "W per K" in file
    for number, (line, row) in enumerate(zip(body, rows, strict=True)):
        if row["lowest floor"] is None:
            assert line[1] == ""
            assert floors[number] != floors[number]
        else:
            assert float(line[1]) == row["lowest floor"] == floors[number]
        assert row["worst"] == words[number]
    # A spreadsheet would compute a cell that begins with an equals sign.
    assert [line[3] for line in body] == ["none", "'=1+1", 'a "b", c']
    assert rows[2]["W/K"] is None


def test_nothing_half_done(tmp_path) -> None:
    with pytest.raises(StoreError, match="cannot be written"):
        write_csv(COLUMNS, tmp_path / "nowhere" / "a.csv")
    assert list(tmp_path.iterdir()) == []
