"""Whatever write a run is stopped after, the rows that count can be read.

The file is written through an object that notes every single write; the file as it stood after each of them
is then put together again and read.
"""

from __future__ import annotations

import io

import h5py
import numpy as np
import pytest

from simulator.errors import StoreError
from simulator.run.observers import Moment
from simulator.store import writer as writer_module
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter

ROWS = 300  # in chunks of four: more than one leaf of the file's index holds


class NotedFile(io.BytesIO):
    """A file that remembers what was written, in order, and whether rows were being made to count then."""

    def __init__(self):
        super().__init__()
        self.writes = []
        self.committing = False

    def write(self, content):
        self.writes.append((self.tell(), bytes(content), self.committing))
        return super().write(content)

    def truncate(self, size=None):
        self.writes.append((self.tell() if size is None else size, None, self.committing))
        return super().truncate(size)


@pytest.fixture
def note_writes(monkeypatch, case, make_geometry, make_moments):
    """Run into a noted file; give back its writes and how many of them made the file."""

    def run():
        noted = NotedFile()
        monkeypatch.setattr(writer_module, "rows_per_block", lambda *_: 4)
        monkeypatch.setattr(writer_module, "_SECONDS_BETWEEN_COMMITS", -1.0)
        options = {"track_order": True, "libver": ("earliest", "v110")}
        monkeypatch.setattr(writer_module.ResultsWriter, "_open", lambda self: self.__setattr__(
            "_file", h5py.File(noted, "w", **options)))  # fmt: skip
        commit = ResultsWriter._commit

        def noted_commit(self):
            if self._rows_in_file % 60:
                return
            noted.committing = True
            commit(self)
            noted.committing = False

        settle = writer_module.Packer.settle

        def noted_settle(self):
            # What was packed meanwhile is added like any chunk: no row counts for it yet.
            committing, noted.committing = noted.committing, False
            settle(self)
            noted.committing = committing

        monkeypatch.setattr(writer_module.ResultsWriter, "_commit", noted_commit)
        monkeypatch.setattr(writer_module.Packer, "settle", noted_settle)
        # Not every part of the catalogue: the file is read again after hundreds of writes.
        parts = frozenset({"moisture", "flue"})
        geometry = make_geometry(rows=ROWS, maps=ROWS // 30, parts=parts)
        sample = make_moments(make_geometry(rows=1, parts=parts))[0]
        due = set(geometry.field_ticks.tolist())
        writer = ResultsWriter(None)
        writer.start(case, geometry)
        made = len(noted.writes)
        for row, tick in enumerate(geometry.series_ticks.tolist()):
            values = {name: value * 0.0 + row + 273.15 for name, value in sample.values.items()}
            field = np.full_like(sample.field, row + 273.15) if tick in due else None
            writer.record(Moment(tick, values, field))
        writes = list(noted.writes)
        writer.abort()
        return writes, made

    return run


def unreadable(writes, made, most=float("inf")):
    """Count the places after which the file cannot be read as far as it says, and those looked at.

    Looks no further when `most` such places are found.
    """
    image = bytearray()
    bad = looked = counted = 0
    for number, (place, content, committing) in enumerate(writes):
        if content is None:
            image = image[:place] + bytes(max(0, place - len(image)))
        else:
            image.extend(bytes(max(0, place - len(image))))
            image[place : place + len(content)] = content
        # between commits only chunks are added, all alike: a sample is enough
        if number < made or (not committing and number % 100):
            continue
        if bad == most:
            return bad, looked
        looked += 1
        try:
            with h5py.File(h5py.h5f.open_file_image(bytes(image))) as file:
                results = Results(file)
                assert results.rows >= counted
                counted = results.rows
                rows = np.arange(counted)
                np.testing.assert_allclose(results["outside_temperature"].values, rows, atol=1e-9)
                np.testing.assert_allclose(results["ledger_handled"].values, rows + 273.15, atol=1e-9)
                maps = results["ground_temperature"].values[:, 0, 0, 0]
                np.testing.assert_array_equal(maps * 300.0, results["field_time"].values)
        except (OSError, RuntimeError, KeyError, StoreError, AssertionError):
            bad += 1
    assert counted > ROWS - 50, "the last state must hold nearly everything"
    return bad, looked


@pytest.mark.slow
def test_every_place_to_stop_is_sound(note_writes):
    bad, looked = unreadable(*note_writes())
    assert looked > 400
    assert bad == 0


@pytest.mark.slow
def test_an_index_that_grows_would_not_be(note_writes, monkeypatch):
    monkeypatch.setattr(writer_module, "lay_out_chunks", lambda *_: None)
    writes, made = note_writes()
    # The index outgrows its first leaf, of 64 chunks, near the end.
    bad, _ = unreadable(writes, max(made, len(writes) * 3 // 4), most=1)
    assert bad == 1
