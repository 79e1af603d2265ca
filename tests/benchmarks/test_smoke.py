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

from benchmarks import adaptive, four_ducts, implicit, ours, section
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
    }
    for entry in entries:
        assert entry.keys() >= KEYS
        assert entry["ratio"] == pytest.approx(entry["peer_seconds"] / entry["seconds"])
        assert all(math.isfinite(entry[key]) and entry[key] > 0.0 for key in ("error_K", "peer_error_K"))
        assert max(entry["error_K"], entry["peer_error_K"]) < 0.05
        assert entry["name"] in done.stdout


def test_reference_agrees_with_an_adaptive_library_integrator(peers, reference):
    # Outside: scipy.integrate.solve_ivp (BDF) with tight tolerances on the same equations.
    rows = adaptive.bdf(peers[0], peers[1], relative=1e-7, absolute=1e-6)
    assert np.abs(rows - reference).max() < 1e-4
    assert np.ptp(reference[:, 0]) > 5.0


def test_our_run_agrees_with_the_reference(case, reference):
    # 0.01 K: what steps of 5 minutes leave, twice the usual.
    assert np.abs(ours.run(case) - reference).max() < 0.01


def test_crank_nicolson_converges_with_order_two(peers, reference):
    # Outside: the method's order. Floor and room only: the exit air still rings a little after the switch.
    coarse, fine = (
        np.abs(implicit.crank_nicolson(peers[0], peers[1], step=step, halvings=4) - reference)[-4:, 1:].max()
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
