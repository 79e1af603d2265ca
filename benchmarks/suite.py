"""What is timed against what, and how the errors of both sides are found."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks import adaptive, four_ducts, implicit, ours, section
from simulator.run.plan import plan
from simulator.section.layout import layout_from_case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from benchmarks.section import Section
    from simulator.case.schema import Case
    from simulator.section.layout import SectionLayout

ADAPTIVE = "solve_ivp BDF sparse Jacobian"
ELEMENTS = "scikit-fem + prefactored sparse LU"
DIRECT = "scipy prefactored sparse Crank-Nicolson, same operators"
LONG = 2.0
"""Runs longer than this [s] are timed once, others `repeats` times."""


@dataclass(frozen=True)
class Sizes:
    """How much is run. Days have to be whole row intervals; shortened peers are scaled up to `days`."""

    days: float
    stations: int
    adaptive_days: float
    check_days: float
    check_scale: float
    repeats: int
    fine: bool


FULL = Sizes(days=10, stations=24, adaptive_days=2, check_days=1, check_scale=0.25, repeats=5, fine=True)
QUICK = Sizes(days=1, stations=24, adaptive_days=0.5, check_days=0.5, check_scale=0.4, repeats=3, fine=False)
SMOKE = Sizes(
    days=0.25, stations=2, adaptive_days=0.25, check_days=0.25, check_scale=0.5, repeats=1, fine=False
)


@dataclass(frozen=True)
class Tuning:
    """Settings of the peers: the fastest of those that `tuning.py` tries with about our error or less."""

    relative: float
    absolute: float
    step: int
    halvings: int
    mesh_scale: float
    mesh_step: int
    mesh_halvings: int


ONE_STATION = Tuning(1e-4, 1.5e-3, 450, 1, 0.9, 900, 1)
MANY_STATIONS = Tuning(1e-4, 2e-3, 450, 1, 0.85, 900, 1)
FINE_CELLS = Tuning(1e-4, 2e-3, 450, 1, 0.5, 450, 1)


@dataclass(frozen=True)
class Timed:
    """Rows of a run, and the processor seconds it took (median)."""

    rows: NDArray[np.float64]
    seconds: float


def timed(call: Callable[[], NDArray[np.float64]], repeats: int) -> Timed:
    """Run and time, again and again where that is short."""
    seconds: list[float] = []
    while True:
        began = time.process_time()
        rows = call()
        seconds.append(time.process_time() - began)
        if len(seconds) >= repeats or seconds[0] > LONG:
            return Timed(rows, statistics.median(seconds))


def error(rows: NDArray[np.float64], reference: NDArray[np.float64]) -> float:
    """Largest difference [K] of exit air, floor mean and room, over the rows that both have."""
    count = min(len(rows), len(reference))
    return float(np.abs(rows[:count] - reference[:count]).max())


def operators_of(case: Case) -> Section:
    """The project's own discretisation in space, for the peers that march it."""
    return section.from_operators(plan(case).operators)


def measure(sizes: Sizes, *, elements: bool = True) -> Iterator[dict[str, Any]]:
    """Run everything and give the entries one by one.

    Parameters
    ----------
    sizes : Sizes
    elements : bool
        Also run scikit-fem.
    """
    compiling = time.perf_counter()
    for solver in ("reduced", "direct"):
        ours.run(four_ducts.build(days=0.25, stations=2, solver=solver))
    common = {"days": sizes.days, "compile_seconds_left_out": time.perf_counter() - compiling}
    for name, stations, tuning in (
        ("one-station", 1, ONE_STATION),
        (f"{sizes.stations}-stations", sizes.stations, MANY_STATIONS),
    ):
        for entry in _one_size(name, stations, tuning, sizes, elements=elements):
            yield entry | common
    if sizes.fine and elements:
        mine = _ours(sizes, sizes.stations, cells=0.5)
        name = f"{sizes.stations}-stations-half-size-cells"
        yield _against_elements(name, mine, sizes.stations, FINE_CELLS, sizes) | common


def _ours(sizes: Sizes, stations: int, *, solver: str = "auto", cells: float = 1.0) -> Timed:
    case = four_ducts.build(days=sizes.days, stations=stations, solver=solver, cells=cells)
    return timed(lambda: ours.run(case), sizes.repeats)


def _one_size(
    name: str, stations: int, tuning: Tuning, sizes: Sizes, *, elements: bool
) -> Iterator[dict[str, Any]]:
    case = four_ducts.build(days=sizes.days, stations=stations)
    problem = four_ducts.problem_of(case)
    reference = implicit.radau(operators_of(case), problem, halvings=4, pieces=2)
    mine = _ours(sizes, stations)
    in_time = "same section, Radau IIA of order 5, steps 450 s and less after switches"
    timed_days = sizes.days if stations == 1 else sizes.adaptive_days
    short = four_ducts.problem_of(four_ducts.build(days=timed_days, stations=stations))
    peer = timed(
        lambda: adaptive.bdf(
            operators_of(case), short, relative=tuning.relative, absolute=tuning.absolute,
            coupled_jacobian=False,
        ),
        sizes.repeats,
    )  # fmt: skip
    settings = f"rtol {tuning.relative:g}, atol {tuning.absolute:g} K, start anew at every switch"
    slow = _entry(name, ADAPTIVE, mine, peer, reference, in_time, settings, scale=sizes.days / timed_days)
    slow["peer_days"] = timed_days
    yield slow
    if elements:
        yield _against_elements(name, mine, stations, tuning, sizes)
    direct = timed(
        lambda: implicit.crank_nicolson(
            operators_of(case), problem, step=tuning.step, halvings=tuning.halvings
        ),
        sizes.repeats,
    )
    settings = f"steps {tuning.step} s, the first after a switch halved {tuning.halvings} x and damped"
    yield _entry(name, DIRECT, mine, direct, reference, in_time, settings)
    if stations > 1:
        for suffix, solver in (("full-mesh", "full"), ("full-mesh-direct", "direct")):
            whole = _ours(sizes, stations, solver=solver)
            yield _entry(f"{name}-{suffix}", DIRECT, whole, direct, reference, in_time, settings)


def march_elements(case: Case, *, scale: float, step: int, halvings: int) -> NDArray[np.float64]:
    """Build the mesh of scikit-fem, factorise and march: all that the peer has to do."""
    from benchmarks import finite_elements

    mesh = finite_elements.Fineness().scaled(scale)
    elements = finite_elements.build_section(_layout(case), mesh)
    return implicit.crank_nicolson(elements, four_ducts.problem_of(case), step=step, halvings=halvings)


def fine_elements(case: Case, *, scale: float) -> tuple[NDArray[np.float64], int]:
    """The reference in space and time, and its number of unknowns."""
    from benchmarks import finite_elements

    elements = finite_elements.build_section(_layout(case), finite_elements.Fineness().scaled(scale))
    return implicit.radau(elements, four_ducts.problem_of(case), halvings=4), elements.size


def _layout(case: Case) -> SectionLayout:
    return layout_from_case(case, case.ducts.film)[0]


def _against_elements(name: str, mine: Timed, stations: int, tuning: Tuning, sizes: Sizes) -> dict[str, Any]:
    case = four_ducts.build(days=sizes.days, stations=stations)
    march = partial(
        march_elements, case, scale=tuning.mesh_scale, step=tuning.mesh_step, halvings=tuning.mesh_halvings
    )
    peer = timed(march, sizes.repeats)
    days = sizes.days if stations == 1 else sizes.check_days
    reference, unknowns = fine_elements(
        four_ducts.build(days=days, stations=stations), scale=sizes.check_scale
    )
    against = f"scikit-fem with {unknowns} unknowns, Radau IIA of order 5, over {days:g} days"
    settings = (
        f"cells x {tuning.mesh_scale:g}, steps {tuning.mesh_step} s, the first after a switch halved "
        f"{tuning.mesh_halvings} x and damped"
    )
    entry = _entry(name, ELEMENTS, mine, peer, reference, against, settings)
    entry["difference_K"] = error(mine.rows, peer.rows)
    return entry


def _entry(
    name: str,
    peer_name: str,
    mine: Timed,
    peer: Timed,
    reference: NDArray[np.float64],
    against: str,
    settings: str,
    *,
    scale: float = 1.0,
) -> dict[str, Any]:
    seconds = peer.seconds * scale
    return {
        "name": name,
        "peer": peer_name,
        "ratio": seconds / mine.seconds,
        "error_K": error(mine.rows, reference),
        "peer_error_K": error(peer.rows, reference),
        "seconds": mine.seconds,
        "peer_seconds": seconds,
        "peer_settings": settings,
        "errors_against": against,
    }
