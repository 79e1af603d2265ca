"""What the program keeps on disk and reads again: results, checkpoints, reductions, single runs of many."""

from __future__ import annotations

import contextlib
import io
import math
import zlib
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import DuctfloorError, StoreError
from simulator.store.reader import Results
from tests.fuzz import seeds
from tests.fuzz.seeds import place
from tests.fuzz.told import told

if TYPE_CHECKING:
    from simulator.answers.overnight import Overnight
    from simulator.store.blocks import SeriesBlock

SHOW_EVERY, COMPARE_EVERY, PAGE_EVERY, PICTURE_EVERY, TAKE_OVER_EVERY = 4, 20, 200, 4000, 40
"""These take long, so only some inputs come so far."""


@cache
def sound_results() -> Results:
    """Results in memory that nothing is wrong with."""
    path = place() / "sound.h5"
    path.write_bytes(seeds.results_seed())
    return Results(path)


def read_results(data: bytes) -> DuctfloorError | None:
    """A results file: everything in it, and what `show`, `compare`, `charge` and `report` make of it."""
    from simulator.answers.cautions import cautions
    from simulator.answers.overnight import overnight

    path = place() / "night.h5"
    path.write_bytes(data)
    chosen = zlib.crc32(data)
    try:
        with Results(path) as results:
            for name in results:
                results.read(name)
            _ = results.time, results.field_time, results.summary, results.material_names, results.start
            night = overnight(results)
            cautions(results)
            if chosen % SHOW_EVERY == 0:
                results._repr_html_()
                repr(results)
                _show(results, night)
                _held(results)
            if chosen % COMPARE_EVERY == 0:
                _compare(results)
            if chosen % PAGE_EVERY == 0:
                _page(results)
            if chosen % PICTURE_EVERY == 0:
                _pictures(results)
    except DuctfloorError as error:
        return told(error)
    return None


def _show(results: Results, night: Overnight) -> None:
    from simulator.answers.cautions import cautions
    from simulator.answers.heat_flows import heat_flows
    from simulator.cli.answers import answers_as_data, print_answers
    from simulator.cli.screen import print_cautions, print_json, system_named

    found = cautions(results)
    begin, end = ((at - results.start).total_seconds() for at in (night.window.begin, night.window.end))
    heat_flows(results, begin, end)
    system = system_named(None, results.attrs["shown_in"])
    with contextlib.redirect_stdout(io.StringIO()) as screen:
        print_answers(results, night, system)
        print_cautions(found, system)
        print_json(answers_as_data(results, night, found))
    text = screen.getvalue()
    if any(ord(letter) < 32 and letter != "\n" for letter in text):
        raise AssertionError("control characters on the screen")


def _compare(results: Results) -> None:
    from simulator.answers.compare import compare
    from simulator.answers.telling import telling
    from simulator.cli.screen import plain

    compared = compare([sound_results(), results], ["sound", "other"])
    telling(compared, 1, "US")
    plain(compared.as_data())


def _held(results: Results) -> None:
    """What `charge` reads of a run before it runs further ones."""
    from simulator.answers.heat_held import excess_profile, read_cells
    from simulator.case.kept_text import case_of_text

    case = case_of_text(results.case_text)
    if case.room.kind == "fixed" and results.field_rows:
        cells = read_cells(results, [2e6] * (1 + len(results.material_names)))
        excess_profile(cells, np.asarray(results.read("ground_temperature", -1), dtype=np.float64))


def _page(results: Results) -> None:
    from simulator.answers.overnight import overnight
    from simulator.cli.report import _inputs
    from simulator.look.report.page import report_page

    report_page(results, overnight(results), inputs=_inputs(results))


def _pictures(results: Results) -> None:
    from simulator.answers.overnight import overnight
    from simulator.cli.pictures import write_pictures
    from simulator.cli.screen import system_named

    system = system_named(None, results.attrs["shown_in"])
    write_pictures(results, overnight(results).window, place() / "picture", system)


def read_unfinished(data: bytes) -> DuctfloorError | None:
    """A checkpoint: what it says and, of some, taking its rows over from a sound unfinished file."""
    from simulator.run.checkpoint import Place, hand_out
    from simulator.store.checkpoint import read_checkpoint
    from simulator.store.unfinished import unpack

    if zlib.crc32(data) % TAKE_OVER_EVERY == 0:
        return _go_on(data, seeds.unfinished_seed()[1])
    path = place() / "night.h5.checkpoint"
    path.write_bytes(data)
    try:
        _, arrays = read_checkpoint(path)
        unpack(arrays, _empty_block())
        hand_out({"place": Place()}, arrays)
    except StoreError as error:
        return told(error)
    return None


def read_part(data: bytes) -> DuctfloorError | None:
    """An unfinished results file that a sound checkpoint belongs to."""
    return _go_on(seeds.unfinished_seed()[0], data)


def _empty_block() -> SeriesBlock:
    """Room for the rows that the run that was stopped had not written yet."""
    from simulator.store.blocks import SeriesBlock
    from simulator.store.contents import coordinates_of, series_of

    geometry = seeds.stopped_geometry()
    sizes = {name: values.size for name, values in coordinates_of(geometry).items()}
    chosen = series_of(geometry)
    shapes = {name: tuple(sizes[dim] for dim in entry.dims[1:]) for name, entry in chosen.items()}
    return SeriesBlock(list(chosen.values()), shapes, 7)


def _go_on(checkpoint: bytes, part: bytes) -> DuctfloorError | None:
    from simulator.run.checkpoint import Place, hand_out
    from simulator.store.checkpoint import read_checkpoint
    from simulator.store.writer import ResultsWriter
    from tests.store.conftest import SmallCase

    path = place() / "broken-off.h5"
    path.with_name(path.name + ".checkpoint").write_bytes(checkpoint)
    path.with_name(path.name + ".part").write_bytes(part)
    writer = ResultsWriter(path)
    try:
        _, arrays = read_checkpoint(path.with_name(path.name + ".checkpoint"))
        writer.go_on(arrays)
        writer.start(SmallCase(), seeds.stopped_geometry())
        hand_out({"place": Place()}, arrays)
    except StoreError as error:
        return told(error)
    finally:
        writer.resumable = False
        writer.abort()
    return None


def read_reduction(data: bytes) -> DuctfloorError | None:
    """A kept reduction of a section: it is used whole or passed over."""
    from simulator.section.kept_reduction import reduction_of
    from simulator.store.kept_reductions import KeptReductions

    keeper = KeptReductions(place())
    folder = keeper.folder()
    assert folder is not None
    (folder / "0.npz").write_bytes(data)
    kept = keeper.get("0")
    reduction = None if kept is None else reduction_of(kept, 7)
    if reduction is not None:
        sound = (
            reduction.modes.shape == (7, reduction.rates.size)
            and np.isfinite(reduction.modes).all()
            and (reduction.rates >= 0.0).all()
            and np.isfinite(reduction.rates).all()
            and math.isfinite(reduction.error)
            and all(math.isfinite(shift) for shift in reduction.shifts)
        )
        if not sound:
            raise AssertionError("a reduction was accepted that cannot be")
    return None


def read_member(data: bytes) -> DuctfloorError | None:
    """What is kept of one run of many: it is used whole or passed over."""
    from simulator.answers.many_runs import Runner
    from simulator.answers.members import Span, Task
    from simulator.answers.outputs import OUTPUTS
    from simulator.answers.vary import Row, Varied
    from simulator.cli.screen import plain
    from simulator.store.kept_members import KeptMembers

    fingerprint = "0" * 40
    (place() / f"{fingerprint}.json").write_bytes(data)
    found = Runner(KeptMembers(place()))._found(Task(fingerprint, "", "", (), Span()))
    if found is not None:
        rows = [Row((), (), found)]
        varied = Varied("a", "a.toml", (), "grid", tuple(OUTPUTS.values()), rows)
        varied.columns("US")
        plain(varied.as_data())
    return None
