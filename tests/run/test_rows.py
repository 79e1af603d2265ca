"""Many rows at a time hold what single ones hold, wherever blocks of steps are cut; books by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.run import loop
from simulator.run.ledger import NAMES, SIGNS, Ledger
from simulator.run.loop import simulate
from simulator.run.observers import Rows
from simulator.run.outputs import need_whole_states
from simulator.store.catalogue import SERIES
from simulator.store.record import record
from simulator.store.writer import ResultsWriter
from tests.run.rigs import SWITCHED, Collector, small_case

COMMON = [name for name, entry in SERIES.items() if not entry.part]


class BlockCollector(Collector):
    """Keeps columns."""

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[dict[str, np.ndarray]] = []
        self.maps: list[tuple[int, np.ndarray, np.ndarray]] = []

    def record_rows(self, rows: Rows) -> None:
        self.blocks.append({name: rows.values(name) for name in COMMON} | {"tick": rows.ticks})
        self.maps += [(int(rows.ticks[row]), *rows.ground(row)) for row in rows.with_field]
        assert set(COMMON) <= set(rows.names())
        with pytest.raises(KeyError):
            rows.values("no such series")


@pytest.mark.parametrize("solver", ["reduced", "direct"])
def test_blocks_hold_what_moments_hold(solver: str) -> None:
    case = small_case(SWITCHED, {"numerics": {"solver": solver}})
    blocks, single = BlockCollector(), Collector()
    simulate(case, [blocks, single])
    assert not blocks.moments
    assert single.ticks == np.concatenate([block["tick"] for block in blocks.blocks]).tolist()
    for name in COMMON:
        np.testing.assert_array_equal(
            np.concatenate([b[name] for b in blocks.blocks]), single[name], err_msg=name
        )
    fields = [moment for moment in single.moments if moment.field is not None]
    for (tick, surface, ground), moment in zip(blocks.maps, fields, strict=True):
        assert tick == moment.tick
        np.testing.assert_array_equal(surface, moment.values["floor_surface_temperature"])
        np.testing.assert_array_equal(ground, moment.field)
        assert surface.min() == pytest.approx(moment.values["floor_lowest_temperature"], abs=1e-10)


class Asks(Collector):
    """Asks for some series only, many rows at once."""

    wants_maps = False

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__()
        self.wanted_series = names
        self.found: dict[str, list[np.ndarray]] = {name: [] for name in names}

    def record_rows(self, rows: Rows) -> None:
        for name, parts in self.found.items():
            parts.append(rows.values(name))


@pytest.mark.parametrize("solver", ["reduced", "direct"])
def test_who_asks_for_little_gets_the_same(solver: str) -> None:
    case = small_case(SWITCHED, {"numerics": {"solver": solver}})
    everything = Collector()
    simulate(case, [everything])
    few = ("floor_mean_temperature", "exit_temperature", "ground_mean_temperature", "fan_power")
    for names in (few, (*few, "floor_lowest_temperature"), ("wall_temperature", "ledger_stored_under_floor")):
        asks = Asks(names)
        simulate(case, [asks])
        for name in names:
            np.testing.assert_array_equal(np.concatenate(asks.found[name]), everything[name], err_msg=name)


def test_what_needs_whole_states() -> None:
    assert not need_whole_states(["floor_mean_temperature", "exit_temperature", "duct_heat"])
    assert need_whole_states(["floor_mean_temperature", "floor_highest_temperature"])
    assert need_whole_states(["condensed_water"])


def test_where_blocks_end_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    case = small_case(SWITCHED)
    whole, cut = Collector(), Collector()
    simulate(case, [whole])
    monkeypatch.setattr(loop, "block_size", lambda coupling, state: (7, 3))
    simulate(case, [cut])
    for name in COMMON:
        np.testing.assert_array_equal(whole[name], cut[name], err_msg=name)


def test_the_file_holds_the_same_either_way(tmp_path) -> None:
    case = small_case(SWITCHED)
    record(case, tmp_path / "blocks.h5").close()

    class OneByOne:
        """The same writer without its call for many rows."""

        def __init__(self) -> None:
            writer = ResultsWriter(tmp_path / "rows.h5")
            self.start, self.record = writer.start, writer.record
            self.finish, self.abort, self.results = writer.finish, writer.abort, writer.results

    writer = OneByOne()
    simulate(case, [writer])
    with writer.results() as one, record(case, None) as other:
        for name in COMMON:
            np.testing.assert_array_equal(one[name].values, other[name].values, err_msg=name)


def test_books_noted_at_rows() -> None:
    """Against numpy's running sums."""
    random = np.random.default_rng(2)
    energies, stored = random.normal(size=(9, len(NAMES))), random.normal(size=(9, 2))
    due = np.array([0, 4, 8])
    totals, sums = np.zeros((3, len(NAMES))), np.zeros((3, 5))
    ledger = Ledger()
    ledger.add(energies[:2], stored[:2])
    ledger = Ledger()
    ledger.add(energies, stored, due, totals, sums)
    np.testing.assert_allclose(totals, np.cumsum(energies, axis=0)[due], rtol=1e-13)
    balance = energies @ SIGNS - stored.sum(axis=1)
    handled = np.abs(energies).sum(axis=1) + np.abs(stored).sum(axis=1)
    np.testing.assert_allclose(sums[:, :2], np.cumsum(stored, axis=0)[due], rtol=1e-12)
    np.testing.assert_allclose(sums[:, 2], np.cumsum(balance)[due], rtol=1e-11)
    np.testing.assert_allclose(sums[:, 3], np.cumsum(handled)[due], rtol=1e-13)
    np.testing.assert_allclose(sums[:, 4], np.maximum.accumulate(np.abs(balance) / handled)[due], rtol=1e-12)
    assert ledger.residual == pytest.approx(balance.sum(), rel=1e-11)
