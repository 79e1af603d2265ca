"""How cost grows with cells, stations, steps and years; memory, results file, use of the bandwidth."""

from __future__ import annotations

import math
import multiprocessing
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import h5py
import numba
import numpy as np

from benchmarks import four_ducts, ours
from simulator.run.loop import all_steps, first_state, simulate
from simulator.run.plan import plan
from simulator.store.writer import ResultsWriter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from simulator.case.schema import Case

SIX_HOURS = 6 * 3600
REPEATS = 5


@dataclass(frozen=True)
class Lengths:
    """Days of each measurement, size of cells where they are not varied, and what is varied."""

    days: float
    cells: float
    cell_scales: tuple[float, ...]
    stations: tuple[int, ...]
    steps: tuple[int, ...]
    years: tuple[float, ...]
    store_days: float
    triad: int
    roofline: tuple[int, int]
    roofline_cells: float


FULL = Lengths(
    days=10, cells=1.0, cell_scales=(4.0, 2.0, 1.0, 0.6, 0.4), stations=(1, 4, 24, 100, 400),
    steps=(1200, 600, 300, 150, 75), years=(0.25, 0.5, 1.0, 2.0), store_days=10,
    triad=8_000_000, roofline=(24, 400), roofline_cells=0.9,
)  # fmt: skip
SMOKE = Lengths(
    days=0.5,
    cells=2.0,
    cell_scales=(4.0, 2.0),
    stations=(1, 4),
    steps=(900, 450),
    years=(0.005, 0.01),
    store_days=0.5,
    triad=2_000_000,
    roofline=(2, 4),
    roofline_cells=2.0,
)


def _case(lengths: Lengths, **settings: Any) -> Case:
    usual = {"days": lengths.days, "stations": 24, "cells": lengths.cells, "row": SIX_HOURS}
    return four_ducts.build(**(usual | settings))


def slope(sizes: list[float], values: list[float]) -> float:
    """Slope of the straight line through the points on log axes."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def measure(lengths: Lengths) -> Iterator[dict[str, Any]]:
    """Give the measurements one by one: `name`, what was varied, what was found, slopes."""
    ours.run(four_ducts.build(days=0.25, stations=2))
    for solver in ("auto", "full"):
        yield _growth(
            f"cells-{solver}",
            "cells of all 24 stations",
            [_case(lengths, cells=cells, solver=solver) for cells in lengths.cell_scales],
            lambda case, prepared: case.numerics.stations * prepared.operators.cells,
        )
    yield _growth(
        "stations",
        "stations",
        [_case(lengths, stations=n) for n in lengths.stations],
        lambda case, _: case.numerics.stations,
    )
    yield _growth(
        "steps",
        "steps",
        [_case(lengths, step=s) for s in lengths.steps],
        lambda _, prepared: prepared.step_ends.size,
    )
    yield _growth(
        "years",
        "years",
        [_case(lengths, days=round(365 * years * 4) / 4) for years in lengths.years],
        lambda case, _: case.site.duration / (365 * 86400),
    )
    yield _rows(lengths)
    yield from _memory(lengths)
    yield _store(lengths)
    for name, stations in zip(("roofline-1.7e5-cells", "roofline-3e6-cells"), lengths.roofline, strict=True):
        case = _case(lengths, solver="full", stations=stations, cells=lengths.roofline_cells, days=1)
        yield _bandwidth(name, case, lengths)


def _growth(name: str, of: str, cases: list[Case], size_of: Callable[..., float]) -> dict[str, Any]:
    """Processor seconds to build the model and to march it, for cases of growing size."""
    sizes, building, marching, states = [], [], [], []
    for case in cases:
        best = (math.inf, math.inf)
        for _ in range(2):
            built, marched, prepared, count = _build_and_march(case)
            best = min(best[0], built), min(best[1], marched)
        sizes.append(float(size_of(case, prepared)))
        building.append(best[0])
        marching.append(best[1])
        states.append(count)
    return {
        "name": f"scaling-{name}",
        "of": of,
        "sizes": sizes,
        "states": states,
        "build_seconds": building,
        "march_seconds": marching,
        "build_slope": slope(sizes, building),
        "march_slope": slope(sizes, marching),
        "march_seconds_per_size": [took / size for took, size in zip(marching, sizes, strict=True)],
        "slope": slope(sizes, [built + marched for built, marched in zip(building, marching, strict=True)]),
    }


def _build_and_march(case: Case) -> tuple[float, float, Any, int]:
    began = time.process_time()
    prepared = plan(case)
    solver = prepared.solver()
    coupling = prepared.coupling(solver)
    built = time.process_time()
    coupling.march(first_state(prepared, solver), all_steps(prepared, coupling))
    return built - began, time.process_time() - built, prepared, solver.size


def _rows(lengths: Lengths) -> dict[str, Any]:
    """Processor seconds of one row of output, with all that is told in it."""
    seconds, rows = [], []
    for interval in (SIX_HOURS, 300):
        case = _case(lengths, row=interval)
        best = math.inf
        for _ in range(2):
            began = time.process_time()
            ours.run(case)
            best = min(best, time.process_time() - began)
        seconds.append(best)
        rows.append(lengths.days * 86400 / interval)
    each = (seconds[1] - seconds[0]) / (rows[1] - rows[0])
    return {"name": "scaling-rows", "of": "rows", "sizes": rows, "seconds": seconds, "seconds_per_row": each}


def _memory(lengths: Lengths) -> Iterator[dict[str, Any]]:
    """Largest memory of a process that runs one case, and of one that only loads the program."""
    context = multiprocessing.get_context("spawn")
    finest, loaded = min(lengths.cell_scales), 0.0
    for name, solver, cells in (
        ("nothing-run", "", 1.0),
        ("auto", "auto", lengths.cells),
        ("full", "full", lengths.cells),
        ("auto-finest", "auto", finest),
        ("full-finest", "full", finest),
    ):
        if "finest" in name and finest >= lengths.cells:
            continue
        with ProcessPoolExecutor(1, mp_context=context) as pool:
            peak, total = pool.submit(_peak, solver, cells, lengths.days).result()
        loaded = peak if not solver else loaded
        yield {"name": f"memory-{name}", "cells": total, "peak_MB": peak / 1e6} | (
            {"state_vectors_over_program": (peak - loaded) / (8.0 * total)} if total else {}
        )


def _peak(solver: str, cells: float, days: float) -> tuple[float, int]:
    total = 0
    if solver:
        summary = simulate(
            four_ducts.build(days=days, stations=24, solver=solver, cells=cells, row=SIX_HOURS), []
        )
        total = summary["stations"] * summary["cells"]
    return _largest_memory(), total


def _largest_memory() -> float:
    """Bytes that this process had at most."""
    try:
        # What getrusage says of a process is never less than what its parent had.
        for line in Path("/proc/self/status").read_text(encoding="utf-8").splitlines():
            if line.startswith("VmHWM:"):
                return 1024.0 * int(line.split()[1])
    except OSError:
        pass
    unit = 1 if sys.platform == "darwin" else 1024
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit)


def _store(lengths: Lengths) -> dict[str, Any]:
    """Size of a results file with hourly fields, and what writing it adds."""
    case = _case(lengths, days=lengths.store_days, row=300, fields=1)
    began = time.process_time()
    simulate(case, [])
    without = time.process_time() - began
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.h5"
        began = time.process_time()
        writer = ResultsWriter(path)
        simulate(case, [writer])
        writer.results().close()
        taken = time.process_time() - began
        with h5py.File(path) as file:
            raw = sum(file[name].nbytes for name in ("ground_temperature", "floor_surface_temperature"))
        size = path.stat().st_size
    return {
        "name": "results-file",
        "days": lengths.store_days,
        "file_MB": size / 1e6,
        "fields_before_packing_MB": raw / 1e6,
        "seconds_without_file": without,
        "seconds_for_file": taken - without,
        "written_MB_per_s": size / 1e6 / (taken - without),
        "fields_MB_per_s": raw / 1e6 / (taken - without),
    }


@numba.njit(error_model="numpy")
def _triad(
    to: NDArray[np.float64], one: NDArray[np.float64], two: NDArray[np.float64], factor: float
) -> None:
    for index in range(to.size):
        to[index] = one[index] + factor * two[index]


def _triad_rate(count: int) -> float:
    """Bytes per second of a[i] = b[i] + s * c[i] on one core, counted as three numbers each."""
    to, one, two = np.zeros(count), np.ones(count), np.ones(count)
    rounds = max(1, 40_000_000 // count)
    best = math.inf
    for _ in range(REPEATS + 1):
        began = time.process_time()
        for _ in range(rounds):
            _triad(to, one, two, 3.0)
        best = min(best, time.process_time() - began)
    return 24.0 * count * rounds / best


def _bandwidth(name: str, case: Case, lengths: Lengths) -> dict[str, Any]:
    """What the loop over modes moves in a second, against a triad in memory and one of the loop's own size.

    A step reads the state to see what the lanes read, reads and writes it once to advance it, and reads it
    once more to sum over the stations; it reads 4 columns of modes for each lane and 17 more. Heat through
    the lanes, the room and the books come on top in time, not in bytes.
    """
    prepared = plan(case)
    solver = prepared.solver()
    coupling = prepared.coupling(solver)
    steps = all_steps(prepared, coupling)
    best = math.inf
    for _ in range(REPEATS):
        state = first_state(prepared, solver)
        began = time.process_time()
        coupling.march(state, steps)
        best = min(best, time.process_time() - began)
    modes, stations = solver.size, case.numerics.stations
    cells = stations * prepared.operators.cells
    each = 8.0 * modes * (4 * stations + 4 * prepared.operators.lanes + 17)
    rate = each * steps.ends.size / best
    memory = _triad_rate(lengths.triad)
    near = _triad_rate(modes * stations)
    return {
        "name": name,
        "cells": cells,
        "modes": modes,
        "stations": stations,
        "seconds_per_step": best / steps.ends.size,
        "seconds_per_cell_step": best / steps.ends.size / cells,
        "bytes_per_step": each,
        "GB_per_s": rate / 1e9,
        "triad_in_memory_GB_per_s": memory / 1e9,
        "triad_of_this_size_GB_per_s": near / 1e9,
        "share_of_memory_triad": rate / memory,
        "share_of_triad_of_this_size": rate / near,
    }
