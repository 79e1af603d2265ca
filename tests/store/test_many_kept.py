"""Outcomes and reductions that many runs share."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from simulator.case.changed import changed
from simulator.case.loader import load
from simulator.run.loop import simulate
from simulator.store.gathered import Gatherer
from simulator.store.kept_members import KeptMembers, member_fingerprint
from simulator.store.kept_reductions import KeptReductions
from simulator.store.record import record
from simulator.store.shared_reductions import SharedReductions
from tests.answers.pinned import small_case

ARRAYS = {"modes": np.eye(3), "rates": np.ones(3), "error": np.array(0.0), "shifts": np.ones(2)}


def test_gathered_results_say_what_a_results_file_says() -> None:
    case = small_case()
    gatherer = Gatherer()
    simulate(case, [gatherer])
    with gatherer.results() as gathered, record(case) as written:
        assert gathered.complete
        assert gathered.rows == written.rows
        assert gathered.attrs["input_hash"] == written.attrs["input_hash"]
        for name in written:
            if name in ("air_temperature", "field_time", "floor_surface_temperature", "ground_temperature"):
                continue
            assert gathered.units(name) == written.units(name)
            ours, its = gathered[name].values, written[name].values
            # Without maps another loop runs: compilers may round its sums otherwise. The residual is nothing
            # but rounding, so it is measured by the heat handled.
            size = written["ledger_handled" if name == "ledger_residual" else name].values
            most = float(np.nanmax(np.abs(size), initial=0.0))
            np.testing.assert_allclose(ours, its, rtol=0.0, atol=1e-12 * most, err_msg=name)


def test_a_gatherer_has_no_results_before_the_end() -> None:
    with pytest.raises(RuntimeError, match="did not finish"):
        Gatherer().results()


def test_the_fingerprint_follows_text_files_and_more(tmp_path: Path) -> None:
    case = small_case()
    first = member_fingerprint(case)
    assert member_fingerprint(small_case()) == first
    assert member_fingerprint(case, "night 2") != first
    assert member_fingerprint(changed(case, {"ducts.count": 3})) != first
    weather = tmp_path / "w.csv"
    text = case.source_text.replace(
        '[weather]\nkind = "constant"\ntemperature = "-5 degC"',
        '[weather]\nkind = "csv"\nfile = "w.csv"\n'
        'columns = { time = { column = "time" }, temperature = { column = "t", unit = "degC" } }',
    )
    weather.write_text("time,t\n2031-01-15 00:00,1\n2031-01-17 00:00,1\n", encoding="utf-8")
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    before = member_fingerprint(load(tmp_path / "a.toml"))
    weather.write_text("time,t\n2031-01-15 00:00,2\n2031-01-17 00:00,1\n", encoding="utf-8")
    assert member_fingerprint(load(tmp_path / "a.toml")) != before


def test_outcomes_are_kept_whole_or_not_at_all(tmp_path: Path) -> None:
    kept = KeptMembers(tmp_path / "kept")
    assert kept.get("a") is None
    kept.put("a", {"values": {"x": 1.5}})
    assert kept.get("a") == {"values": {"x": 1.5}, "fingerprint": "a"}
    assert [path.name for path in (tmp_path / "kept").iterdir()] == ["a.json"]
    (tmp_path / "kept" / "a.json").write_text('{"values": {"x"', encoding="utf-8")
    assert kept.get("a") is None
    (tmp_path / "kept" / "b.json").write_text('{"fingerprint": "a"}', encoding="utf-8")
    assert kept.get("b") is None


def test_one_reduces_and_the_others_wait(tmp_path: Path) -> None:
    first, second = (SharedReductions(KeptReductions(tmp_path)) for _ in range(2))
    assert first.get("f") is None  # first is to make it now
    found: list[object] = []
    other = threading.Thread(target=lambda: found.append(second.get("f")))
    other.start()
    time.sleep(0.1)
    assert not found
    first.put("f", ARRAYS)
    other.join(timeout=20.0)
    np.testing.assert_array_equal(found[0]["modes"], ARRAYS["modes"])
    assert (first.made, second.made, second.reused) == (1, 0, 1)


def test_whoever_gives_up_lets_the_others_go_on(tmp_path: Path) -> None:
    first, second = (SharedReductions(KeptReductions(tmp_path)) for _ in range(2))
    assert first.get("f") is None
    first.release()
    assert second.get("f") is None


@pytest.mark.skipif(os.name != "posix", reason="asks the system for processes")
def test_the_mark_of_a_dead_process_does_not_hold(tmp_path: Path) -> None:
    keeper = SharedReductions(KeptReductions(tmp_path))
    folder = KeptReductions(tmp_path).folder()
    import platform
    import subprocess
    import sys

    gone = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, text=True, check=True
    )
    (folder / "f.making").write_text(f"{platform.node()} {gone.stdout.strip()}", encoding="utf-8")
    began = time.monotonic()
    assert keeper.get("f") is None
    assert time.monotonic() - began < 5.0
