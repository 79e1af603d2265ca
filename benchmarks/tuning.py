"""Tries settings of the peers, so that each can be run at the fastest one with about our error."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from benchmarks import adaptive, four_ducts, implicit, ours, suite
from benchmarks.crank_nicolson import crank_nicolson
from benchmarks.measuring import Timed, error, operators_of, timed

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

STEPS = ((300, 0), (300, 1), (300, 2), (450, 0), (450, 1), (450, 2), (900, 0), (900, 1), (900, 2), (900, 3))
TOLERANCES = (
    (1e-3, 1e-2),
    (1e-3, 3e-3),
    (3e-4, 3e-3),
    (1e-4, 3e-3),
    (1e-4, 2e-3),
    (1e-4, 1.5e-3),
    (1e-4, 1e-3),
)
MESH_SCALES = (0.8, 0.75, 0.7, 0.65, 0.63, 0.6, 0.55, 0.5, 0.45, 0.4)
MESH_STEPS = ((450, 1), (900, 1))


def search() -> None:
    """Print processor seconds and error of every setting, ours first."""
    ours.run(four_ducts.build(days=0.25, stations=2))
    for count, days in ((1, suite.FULL.days), (24, suite.FULL.check_days)):
        print(f"{count} stations, {days:g} days; seconds and largest error [K]")
        _same_section(count, 1.0)
        _elements(count, days)


def _same_section(count: int, days: float) -> None:
    case = four_ducts.build(days=days, stations=count)
    problem, same = four_ducts.problem_of(case), operators_of(case)
    reference = implicit.radau(same, problem, halvings=4, pieces=2)
    _line("ours, error in time", timed(partial(ours.run, case), 3), reference)
    for step, halvings in STEPS:
        march = partial(crank_nicolson, same, problem, step=step, halvings=halvings)
        _line(f"Crank-Nicolson, {step} s, halved {halvings} x", timed(march, 1), reference)
    for relative, absolute in TOLERANCES:
        # With many stations, factorising the Jacobian with its couplings along the air takes far longer.
        for whole in (False, True) if count == 1 else (False,):
            march = partial(
                adaptive.bdf, same, problem, relative=relative, absolute=absolute, coupled_jacobian=whole
            )
            name = f"BDF, {relative:g}, {absolute:g} K, whole Jacobian {whole}"
            _line(name, timed(march, 1), reference)


def _elements(count: int, days: float) -> None:
    case = four_ducts.build(days=days, stations=count)
    reference, _ = suite.fine_elements(case, scale=0.25)
    for cells in (1.0, 0.5):
        own = four_ducts.build(days=days, stations=count, cells=cells)
        name = f"ours, cells x {cells:g}, whole error"
        _line(name, timed(partial(ours.run, own), 3), reference)
    for scale in MESH_SCALES:
        for step, halvings in MESH_STEPS:
            march = partial(suite.march_elements, case, scale=scale, step=step, halvings=halvings)
            name = f"scikit-fem, cells x {scale:g}, {step} s, halved {halvings} x"
            _line(name, timed(march, 1), reference)


def _line(name: str, run: Timed, reference: NDArray[np.float64]) -> None:
    print(f"  {name:60} {run.seconds:8.3f} {error(run.rows, reference):9.5f}", flush=True)
