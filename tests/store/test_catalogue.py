"""The list of datasets is sound, and rows are written in blocks."""

from __future__ import annotations

import pytest

from simulator.store import packing
from simulator.store.blocks import rows_per_block
from simulator.store.catalogue import CATALOGUE, COORDINATES, FIELDS, SERIES, STATIC
from simulator.store.contents import series_of
from simulator.store.writer import ResultsWriter


def test_every_dimension_is_a_coordinate():
    for name, entry in CATALOGUE.items():
        assert entry.name == name
        assert set(entry.dims) <= COORDINATES.keys(), name
    assert len(CATALOGUE) == len(COORDINATES) + len(STATIC) + len(SERIES) + len(FIELDS)


def test_every_account_has_its_unit():
    for name, entry in SERIES.items():
        assert entry.dims[0] == "time"
        if name.startswith(("ledger_", "whole_")):
            assert (entry.unit, entry.dims) == ("J", ("time",))
        elif name.endswith(("_loss", "_gain", "_heat", "_power")):
            assert (entry.unit, entry.dims) == ("W", ("time",))
        else:
            assert entry.is_temperature == name.endswith("_temperature")


@pytest.mark.parametrize(
    ("rows", "row_bytes", "expected"),
    [
        (1, 8, 1),
        (40, 8, 40),
        (400, 8, 64),
        (1440, 8, 180),
        (100_000, 8, 512),
        (100_000, 2**22, 1),
        (9, 2**30, 1),
    ],
)
def test_blocks_are_neither_tiny_nor_huge(rows, row_bytes, expected):
    # a run has about eight blocks within 64 and 512 rows; none is larger than 4 MiB or than the run
    assert rows_per_block(rows, row_bytes) == expected


def test_the_file_is_written_once_a_block_whatever_the_rows(
    case, make_geometry, make_moments, tmp_path, monkeypatch
):
    """What makes a row cheap; how long one takes is measured in benchmarks/."""
    blocks, written = 12, []
    monkeypatch.setattr(
        packing, "write_packed", lambda dataset, first, chunk: written.append((dataset.name, first))
    )
    rows = blocks * rows_per_block(10_000, 8 * 24)
    geometry = make_geometry(rows=rows, maps=0, stations=24, lanes=4)
    sample = make_moments(make_geometry(rows=1, maps=0, stations=24, lanes=4))[0]
    writer = ResultsWriter(tmp_path / "night.h5")
    writer.start(case, geometry)
    for tick in geometry.series_ticks.tolist():
        object.__setattr__(sample, "tick", tick)
        writer.record(sample)
    writer.secure()
    writer.abort()
    assert len(written) == len(set(written)) == blocks * len(series_of(geometry))


def test_series_of_a_part_are_left_out_where_the_case_has_none_of_it(make_geometry):
    plain = series_of(make_geometry(parts=frozenset()))
    wet = series_of(make_geometry(parts=frozenset({"moisture"})))
    assert {SERIES[name].part for name in plain} == {""}
    assert {SERIES[name].part for name in wet} == {"", "moisture"}
    assert "water_held" in wet
    assert "flue_margin" not in wet
