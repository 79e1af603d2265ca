"""Long runs of a finer section: a winter with every cell, a winter and ten years by the reduced model.

All of them run the same case against the same peer, which is timed over a stretch and scaled up. Rows of the
long runs lie an hour or six apart; the errors are found with rows every 15 minutes.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks import four_ducts, implicit, ours
from benchmarks.crank_nicolson import crank_nicolson
from benchmarks.measuring import Timed, entry, error, operators_of, stretched, timed
from simulator.run.plan import plan
from simulator.store.kept_reductions import KeptReductions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.case.schema import Case

PEER = "scipy prefactored sparse Crank-Nicolson, same operators"
IN_TIME = "same section, Radau IIA of order 5, steps 900 s and less after switches"
STEP, HALVINGS = 450, 1
"""Settings of the peer: the fastest that `tuning.py` finds with about our error or less."""
HOUR = 3600
YEAR = 365.0


@dataclass(frozen=True)
class Horizon:
    """How long is run [days]: ours over a winter and over many years; the peer's two runs, and those in which
    it uses two processes; the check of the errors."""

    days: float
    many_days: float
    stations: int
    cells: float
    peer_days: tuple[float, float]
    pair_days: tuple[float, float]
    check_days: float
    repeats: int

    def case(self, days: float, **settings: Any) -> Case:
        """The case over some days."""
        return four_ducts.build(days=days, stations=self.stations, cells=self.cells, **settings)


class _Kept(KeptReductions):
    """Reductions in a folder that goes with this object."""

    def __init__(self) -> None:
        self._temporary = tempfile.TemporaryDirectory()
        super().__init__(Path(self._temporary.name))


@dataclass(frozen=True)
class _Peer:
    """Two runs of the peer."""

    days: tuple[float, float]
    short: Timed
    long: Timed
    processes: int

    def seconds(self, days: float) -> float:
        """Processor seconds, of one process, that some days take."""
        name = "processor" if self.processes > 1 else "seconds"
        short, long = getattr(self.short, name), getattr(self.long, name)
        return stretched(short, self.days[0], long, self.days[1], days)

    def wall_seconds(self, days: float) -> float:
        """Seconds by the wall, of one that was timed by it."""
        return stretched(self.short.seconds, self.days[0], self.long.seconds, self.days[1], days)


def _peer(horizon: Horizon, days: tuple[float, float], processes: int) -> _Peer:
    def run(length: float) -> Timed:
        case = horizon.case(length)
        march = partial(crank_nicolson, step=STEP, halvings=HALVINGS, processes=processes)
        return timed(
            lambda: march(operators_of(case), four_ducts.problem_of(case)),
            horizon.repeats,
            wall=processes > 1,
        )

    return _Peer(days, run(days[0]), run(days[1]), processes)


def measure(horizon: Horizon) -> Iterator[dict[str, Any]]:
    """Give the entries one by one.

    The full-mesh runs build their model anew every time. The reduced ones find it kept on disk, as every run
    of the command line does from the second on; what they take with building stands beside.
    """
    cells = plan(horizon.case(1.0)).operators.cells
    check = horizon.case(horizon.check_days)
    reference = implicit.radau(operators_of(check), four_ducts.problem_of(check), halvings=4)
    peer = _peer(horizon, horizon.peer_days, 1)
    pair = _peer(horizon, horizon.pair_days, 2)

    def checked(days: float, row: int, **settings: Any) -> float:
        # The model that was timed: its modes are chosen for the whole length, steps that grow for its rows.
        found = ours.run_first(horizon.case(days, row=row, **settings), horizon.check_days)
        return error(found, reference[row // four_ducts.ROW - 1 :: row // four_ducts.ROW])

    def one(
        name: str, seconds: float, days: float, row: int, against: _Peer, **settings: Any
    ) -> dict[str, Any]:
        made = entry(
            name,
            PEER,
            seconds=seconds,
            peer_seconds=against.seconds(days),
            error_k=max(checked(days, close, **settings) for close in {four_ducts.ROW, row}),
            peer_error_k=error(peer.long.rows, reference),
            against=f"{IN_TIME}, over {horizon.check_days:g} days",
            settings=f"steps {STEP} s, the first after a switch halved {HALVINGS} x and damped; processes: "
            f"{against.processes}; scaled up from runs of {against.days[0]:g} and {against.days[1]:g} days",
        )
        return made | {
            "days": days,
            "peer_days": against.days[1],
            "cells_per_section": cells,
            "stations": horizon.stations,
            "rows_every_s": row,
            "steps": settings.get("steps", "fixed"),
        }

    def long_run(days: float, row: int, *, wall: bool = False, kept: bool = False, **settings: Any) -> Timed:
        case = horizon.case(days, row=row, **settings)
        keeper = _Kept() if kept else None
        if kept:
            ours.run(case, keeper)
        return timed(lambda: ours.run(case, keeper), horizon.repeats, wall=wall)

    def with_building(timing: Timed, against: _Peer, length: float) -> dict[str, float]:
        return {
            "seconds_with_building": timing.seconds,
            "ratio_with_building": against.seconds(length) / timing.seconds,
        }

    days = horizon.days
    full = long_run(days, HOUR, solver="full")
    both = long_run(days, HOUR, solver="full", threads=2, wall=True)
    yield one("full-winter", full.seconds, days, HOUR, peer, solver="full")
    yield (
        one("full-winter-2-threads", both.processor, days, HOUR, pair, solver="full", threads=2)
        | {
            "clock": "processor: ours all threads together, the peer's one of its two processes",
            "wall_seconds": both.seconds,
            "peer_wall_seconds": pair.wall_seconds(days),
            "wall_ratio": pair.wall_seconds(days) / both.seconds,
        }
    )
    winter = 1.0
    for name, steps in (("reduced-winter", "as needed"), ("reduced-winter-fixed-steps", "fixed")):
        built = long_run(days, HOUR, steps=steps)
        kept = long_run(days, HOUR, kept=True, steps=steps)
        winter = kept.seconds if steps == "as needed" else winter
        apart = {"full_and_reduced_apart_K": error(full.rows, kept.rows), "apart_over_days": days}
        yield (
            one(name, kept.seconds, days, HOUR, peer, steps=steps) | apart | with_building(built, peer, days)
        )
    built = long_run(horizon.many_days, 6 * HOUR, steps="as needed")
    years = long_run(horizon.many_days, 6 * HOUR, kept=True, steps="as needed")
    length = min(YEAR, horizon.many_days)
    whole = ours.run(horizon.case(length, solver="full", row=6 * HOUR))
    yield (
        one("reduced-ten-years", years.seconds, horizon.many_days, 6 * HOUR, peer, steps="as needed")
        | {
            "full_and_reduced_apart_K": error(whole, years.rows),
            "apart_over_days": length,
            "cost_over_winter": years.seconds / winter,
        }
        | with_building(built, peer, horizon.many_days)
    )
