"""What is timed against what, and how the errors of both sides are found."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from benchmarks import adaptive, four_ducts, implicit, ours, winter
from benchmarks.crank_nicolson import crank_nicolson
from benchmarks.measuring import Timed, entry, error, operators_of, stretched, timed
from simulator.section.layout import layout_from_case

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.section.layout import SectionLayout

HOUR = 3600
ADAPTIVE = "solve_ivp BDF sparse Jacobian"
ELEMENTS = "scikit-fem + prefactored sparse LU"


@dataclass(frozen=True)
class Sizes:
    """How much is run. Days have to be whole row intervals.

    `direct` runs the sparse solve of every cell too. `adaptive_days` are those of the two runs from which the
    time of `solve_ivp` is scaled up with many stations; if they are one and the same, both sides run just
    that long and nothing is scaled.
    """

    days: float
    stations: int
    adaptive_days: tuple[float, float]
    check_days: float
    check_scale: float
    repeats: int
    adaptive_repeats: int
    fine: bool
    direct: bool
    winter: winter.Horizon


FULL = Sizes(
    days=10, stations=24, adaptive_days=(1, 2), check_days=1, check_scale=0.25, repeats=5,
    adaptive_repeats=5, fine=True, direct=True,
    winter=winter.Horizon(
        days=120, many_days=3650, stations=24, cells=0.9, peer_days=(1, 10), pair_days=(1, 3),
        check_days=10, repeats=5,
    ),
)  # fmt: skip
QUICK = Sizes(
    days=0.5, stations=24, adaptive_days=(1 / 24, 1 / 24), check_days=0.25, check_scale=0.5, repeats=2,
    adaptive_repeats=1, fine=False, direct=False,
    winter=winter.Horizon(
        days=120, many_days=1200, stations=24, cells=0.9, peer_days=(0.5, 1.5), pair_days=(0.5, 1.5),
        check_days=0.5, repeats=2,
    ),
)  # fmt: skip
SMOKE = Sizes(
    days=0.25, stations=2, adaptive_days=(0.25, 0.25), check_days=0.25, check_scale=0.5, repeats=1,
    adaptive_repeats=1, fine=False, direct=True,
    winter=winter.Horizon(
        days=1, many_days=2, stations=2, cells=2.0, peer_days=(0.25, 0.5), pair_days=(0.25, 0.5),
        check_days=0.25, repeats=1,
    ),
)  # fmt: skip


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


ONE_STATION = Tuning(1e-4, 1.5e-3, 450, 1, 0.7, 900, 1)
MANY_STATIONS = Tuning(1e-4, 1.5e-3, 450, 1, 0.6, 900, 1)
FINE_CELLS = Tuning(1e-4, 1.5e-3, 450, 1, 0.5, 450, 1)


def measure(sizes: Sizes, *, elements: bool = True) -> Iterator[dict[str, Any]]:
    """Run everything and give the entries one by one.

    Parameters
    ----------
    sizes : Sizes
    elements : bool
        Also run scikit-fem.
    """
    compiling = time.perf_counter()
    for solver in ("reduced", "direct") if sizes.direct else ("reduced",):
        ours.run(four_ducts.build(days=0.25, stations=2, solver=solver))
    common = {"compile_seconds_left_out": time.perf_counter() - compiling}
    for name, stations, tuning in (
        ("one-station", 1, ONE_STATION),
        (f"{sizes.stations}-stations", sizes.stations, MANY_STATIONS),
    ):
        for one in _one_size(name, stations, tuning, sizes, elements=elements):
            yield {"days": sizes.days} | one | common
    if sizes.fine and elements:
        mine = _ours(sizes, sizes.stations, cells=0.5)
        name = f"{sizes.stations}-stations-half-size-cells"
        one = _against_elements(name, mine, sizes.stations, FINE_CELLS, sizes)
        yield {"days": sizes.days} | one | common
    for one in winter.measure(sizes.winter):
        yield one | common


def _ours(
    sizes: Sizes, stations: int, *, days: float = 0.0, solver: str = "auto", cells: float = 1.0
) -> Timed:
    """Time a run with rows of output every hour; the errors are found with rows every 15 minutes."""
    close, hourly = (
        four_ducts.build(days=days or sizes.days, stations=stations, solver=solver, cells=cells, row=row)
        for row in (four_ducts.ROW, HOUR)
    )
    took = timed(lambda: ours.run(hourly), sizes.repeats)
    return Timed(ours.run(close), took.seconds, took.processor)


def _one_size(
    name: str, stations: int, tuning: Tuning, sizes: Sizes, *, elements: bool
) -> Iterator[dict[str, Any]]:
    case = four_ducts.build(days=sizes.days, stations=stations)
    problem = four_ducts.problem_of(case)
    reference = implicit.radau(operators_of(case), problem, halvings=4, pieces=1 if stations > 1 else 2)
    mine = _ours(sizes, stations)
    yield _against_adaptive(name, mine, reference, stations, tuning, sizes)
    if elements:
        yield _against_elements(name, mine, stations, tuning, sizes)
    direct = timed(
        lambda: crank_nicolson(operators_of(case), problem, step=tuning.step, halvings=tuning.halvings),
        sizes.repeats,
    )
    settings = f"steps {tuning.step} s, the first after a switch halved {tuning.halvings} x and damped"
    yield _entry(name, winter.PEER, mine, direct, reference, winter.IN_TIME, settings)
    if stations > 1:
        solvers = {"full-mesh": "full"} | ({"full-mesh-direct": "direct"} if sizes.direct else {})
        for suffix, solver in solvers.items():
            whole = _ours(sizes, stations, solver=solver)
            yield _entry(f"{name}-{suffix}", winter.PEER, whole, direct, reference, winter.IN_TIME, settings)


def _against_adaptive(
    name: str, mine: Timed, reference: NDArray[np.float64], stations: int, tuning: Tuning, sizes: Sizes
) -> dict[str, Any]:
    short_days, long_days = (sizes.days, sizes.days) if stations == 1 else sizes.adaptive_days

    def peer(days: float) -> Timed:
        problem = four_ducts.problem_of(four_ducts.build(days=days, stations=stations))
        march = partial(
            adaptive.bdf, relative=tuning.relative, absolute=tuning.absolute, coupled_jacobian=False
        )
        case = four_ducts.build(days=days, stations=stations)
        return timed(lambda: march(operators_of(case), problem), sizes.adaptive_repeats)

    long, days = peer(long_days), sizes.days
    seconds = long.seconds
    if short_days < long_days:
        seconds = stretched(peer(short_days).seconds, short_days, long.seconds, long_days, sizes.days)
    elif long_days < sizes.days:
        mine, days = _ours(sizes, stations, days=long_days), long_days
    settings = f"rtol {tuning.relative:g}, atol {tuning.absolute:g} K, start anew at every switch"
    one = _entry(name, ADAPTIVE, mine, Timed(long.rows, seconds), reference, winter.IN_TIME, settings)
    return one | {"days": days, "peer_days": long_days}


def march_elements(case: Case, *, scale: float, step: int, halvings: int) -> NDArray[np.float64]:
    """Build the mesh of scikit-fem, factorise and march: all that the peer has to do."""
    from benchmarks import finite_elements

    mesh = finite_elements.Fineness().scaled(scale)
    elements = finite_elements.build_section(_layout(case), mesh)
    return crank_nicolson(elements, four_ducts.problem_of(case), step=step, halvings=halvings)


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
    one = _entry(name, ELEMENTS, mine, peer, reference, against, settings)
    one["difference_K"] = error(mine.rows, peer.rows)
    return one


def _entry(
    name: str, peer_name: str, mine: Timed, peer: Timed, reference: NDArray[np.float64], against: str,
    settings: str,
) -> dict[str, Any]:  # fmt: skip
    return entry(
        name,
        peer_name,
        seconds=mine.seconds,
        peer_seconds=peer.seconds,
        error_k=error(mine.rows, reference),
        peer_error_k=error(peer.rows, reference),
        against=against,
        settings=settings,
    )
