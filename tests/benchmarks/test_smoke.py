"""The benchmarks still run, and their peers still solve our equations."""

from __future__ import annotations

import dataclasses
import json
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from benchmarks import adaptive, four_ducts, implicit, ours, scaling, section
from benchmarks.crank_nicolson import crank_nicolson
from benchmarks.measuring import stretched
from simulator.run.plan import plan

RUN = Path(__file__).resolve().parents[2] / "benchmarks" / "run.py"
KEYS = {"name", "peer", "ratio", "error_K", "peer_error_K", "seconds", "peer_seconds", "machine"}


@pytest.fixture(scope="module")
def case():
    return four_ducts.build(days=0.25, stations=2)


@pytest.fixture(scope="module")
def peers(case):
    prepared = plan(case)
    return section.from_operators(prepared.operators), four_ducts.problem_of(case), prepared.operators.layout


@pytest.fixture(scope="module")
def reference(peers):
    return implicit.radau(peers[0], peers[1], halvings=5, pieces=2)


def test_command_writes_entries(tmp_path):
    pytest.importorskip("skfem")
    file = tmp_path / "entries.json"
    done = subprocess.run(
        [sys.executable, str(RUN), "--smoke", "--json", str(file)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    entries = json.loads(file.read_text(encoding="utf-8"))
    assert {(entry["name"], entry["peer"].split()[0]) for entry in entries} == {
        ("one-station", "solve_ivp"),
        ("one-station", "scikit-fem"),
        ("one-station", "scipy"),
        ("2-stations", "solve_ivp"),
        ("2-stations", "scikit-fem"),
        ("2-stations", "scipy"),
        ("2-stations-full-mesh", "scipy"),
        ("2-stations-full-mesh-direct", "scipy"),
        ("full-winter", "scipy"),
        ("full-winter-2-threads", "scipy"),
        ("reduced-winter", "scipy"),
        ("reduced-winter-fixed-steps", "scipy"),
        ("reduced-ten-years", "scipy"),
    }
    for entry in entries:
        assert entry.keys() >= KEYS
        assert entry["ratio"] == pytest.approx(entry["peer_seconds"] / entry["seconds"])
        assert all(math.isfinite(entry[key]) and entry[key] > 0.0 for key in ("error_K", "peer_error_K"))
        assert max(entry["error_K"], entry["peer_error_K"]) < 0.05
        assert entry["name"] in done.stdout
        if "reduced" in entry["name"]:
            # The reduced model is allowed 0.005 K, and steps that grow leave as much.
            assert 0.0 < entry["full_and_reduced_apart_K"] < 0.01
            assert entry["seconds"] < 1.5 * entry["seconds_with_building"]
        if "winter" in entry["name"] or "years" in entry["name"]:
            assert 0.0 < entry["peer_days"] <= entry["days"]


def test_reference_agrees_with_an_adaptive_library_integrator(peers, reference):
    # Outside: scipy.integrate.solve_ivp (BDF) with tight tolerances on the same equations.
    rows = adaptive.bdf(peers[0], peers[1], relative=1e-7, absolute=1e-6)
    assert np.abs(rows - reference).max() < 1e-4
    assert np.ptp(reference[:, 0]) > 5.0


def test_our_run_agrees_with_the_reference(case, reference):
    # 0.01 K: what steps of 5 minutes leave, twice the usual.
    assert np.abs(ours.run(case) - reference).max() < 0.01


def test_all_modes_agree_with_sparse_solves_of_every_cell():
    # Outside: scipy's sparse LU in every stage, no modes.
    modes, cells = (
        ours.run(four_ducts.build(days=0.25, stations=2, solver=solver)) for solver in ("full", "direct")
    )
    assert np.abs(modes - cells).max() < 1e-5


def test_crank_nicolson_converges_with_order_two(peers, reference):
    # Outside: the method's order. Floor and room only: the exit air still rings a little after the switch.
    coarse, fine = (
        np.abs(crank_nicolson(peers[0], peers[1], step=step, halvings=4) - reference)[-4:, 1:].max()
        for step in (300, 150)
    )
    assert 1.8 < math.log2(coarse / fine) < 2.2


def test_finite_elements_agree_with_our_section(peers, reference):
    # Outside: scikit-fem, bilinear elements on a mesh of its own.
    elements = pytest.importorskip("benchmarks.finite_elements")
    layout, fineness = peers[2], elements.Fineness().scaled(0.7)
    rows = implicit.radau(elements.build_section(layout, fineness), peers[1], halvings=4)
    assert np.abs(rows - reference).max() < 0.05
    # The comparison notices ground that conducts a tenth better.
    solids = list(layout.solids)
    ground = layout.regions[0].solid
    solids[ground] = dataclasses.replace(solids[ground], conductivity=1.1 * solids[ground].conductivity)
    wrong = elements.build_section(dataclasses.replace(layout, solids=tuple(solids)), fineness)
    assert np.abs(implicit.radau(wrong, peers[1], halvings=4) - reference).max() > 0.05


def test_crank_nicolson_shared_by_two_processes_is_the_same(peers):
    alone, shared = (
        crank_nicolson(peers[0], peers[1], step=450, halvings=1, processes=count) for count in (1, 2)
    )
    # Stations are solved one by one: only the order of a sum may differ.
    assert np.abs(alone - shared).max() < 1e-9


def test_first_days_of_a_run_are_its_first_rows():
    case = four_ducts.build(days=0.5, stations=2)
    assert np.array_equal(ours.run_first(case, 0.25), ours.run(case)[:24])


def test_what_is_done_once_counts_once():
    # 2 s of preparation and 3 s a day.
    assert stretched(5.0, 1.0, 11.0, 3.0, 120.0) == pytest.approx(362.0)


def test_slope_on_log_axes():
    assert scaling.slope([1.0, 10.0, 100.0], [2.0, 2.0 * 10**1.5, 2.0 * 10**3]) == pytest.approx(1.5)


def test_cost_of_growing_cases_is_measured(tmp_path):
    file = tmp_path / "growth.json"
    done = subprocess.run(
        [sys.executable, str(RUN), "--scaling", "--smoke", "--json", str(file)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = {entry["name"]: entry for entry in json.loads(file.read_text(encoding="utf-8"))}
    for name in ("cells-auto", "cells-full", "stations", "steps", "years"):
        entry = found[f"scaling-{name}"]
        assert entry["sizes"] == sorted(entry["sizes"])
        assert math.isfinite(entry["slope"])
    # A run needs more memory than no run, and no more than a small machine has.
    assert 20.0 < found["memory-nothing-run"]["peak_MB"] < found["memory-full"]["peak_MB"] < 2000.0
    # Packed, hourly fields are smaller than they were, but not nothing.
    fields = found["results-file"]
    assert 0.05 < fields["file_MB"] / fields["fields_before_packing_MB"] < 1.0
    # Neither the loop over modes nor a triad beats every memory there is.
    for name in ("roofline-1.7e5-cells", "roofline-3e6-cells"):
        assert 0.0 < found[name]["share_of_triad_of_this_size"] < 2.0


@pytest.mark.slow
def test_the_start_is_measured(tmp_path):
    file = tmp_path / "start.json"
    subprocess.run(
        [sys.executable, str(RUN), "--start", "--smoke", "--json", str(file)], capture_output=True, check=True
    )
    entries = json.loads(file.read_text(encoding="utf-8"))
    assert [entry["name"] for entry in entries] == [
        "start-overnight", "start-duct-short", "start-flue-run",
    ]  # fmt: skip
    for entry in entries:
        assert 0.0 < entry["interpreter_seconds"] < entry["first_step_seconds"] < entry["seconds"]
        assert entry["ratio"] == pytest.approx(entry["peer_seconds"] / entry["seconds"])
