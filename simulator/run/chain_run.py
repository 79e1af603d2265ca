"""The chain of one run: its parts, its state, and the calls that the time loop makes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.house.house import house_drives
from simulator.run.chain import Chain
from simulator.run.chain_build import chain_of
from simulator.run.chain_loop import longest_step, take_step
from simulator.run.chain_outputs import ChainNarrator
from simulator.run.chain_parts import needs_chain
from simulator.run.chain_state import ChainState

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.run.coupling import Coupling, Steps
    from simulator.run.plan import RunPlan
    from simulator.run.state import RunState


@dataclass
class ChainRun:
    """The chain as the time loop sees it.

    Attributes
    ----------
    chain : Chain
    steps : Steps
        All steps of the run.
    held : ChainState
    whole : int [ticks]
        Usual length of a step.
    switched : list of int [ticks]
        Instants at which rules switched.
    """

    chain: Chain
    steps: Steps
    held: ChainState
    whole: int
    switched: list[int] = field(default_factory=list)
    _fresh: bool = True

    def __post_init__(self) -> None:
        self._narrator = ChainNarrator(self.chain)

    def march(self, state: RunState, first: int, last: int) -> None:
        """Advance through steps `first` up to, not including, `last`, in place."""
        for number in range(first, last):
            self.switched += take_step(self.chain, state, self.held, self.steps, number, self.whole)

    def open_books(self) -> None:
        """Open the books at tick 0."""
        self.held.plant_totals[:] = 0.0
        self.held.house_totals[:] = 0.0
        self.held.drawn = 0.0
        self.held.seen = None
        self._fresh = True

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """See `checkpoint.Part`."""
        told = {f"told.{name}": values for name, values in self._narrator.snapshot().items()}
        return {**self.held.snapshot(), **told, "fresh": np.array(self._fresh)}

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """See `checkpoint.Part`."""
        # Only what is switched counts in the settings held, not the drive they were made from.
        self.held.restore_from(arrays, self.chain.timetable.values_from(0))
        told = {name[5:]: values for name, values in arrays.items() if name.startswith("told.")}
        self._narrator.restore(told)
        self._fresh = bool(arrays["fresh"])

    def fan_share(self, tick: int) -> float:
        """Share of full speed in the step that ended here."""
        settings = self.held.settings or self.chain.settings(tick, self.held.rules)
        return settings.fan

    def values(self, state: RunState) -> dict[str, float | NDArray[Any]]:
        """Series of the row at the state's tick."""
        begin, self._fresh = self._fresh, False
        return self._narrator.values(state, self.held, begin)


def chain_of_run(prepared: RunPlan, coupling: Coupling, steps: Steps) -> ChainRun | None:
    """Build the chain of a run; None for a case without one."""
    case = prepared.case
    if not needs_chain(case):
        return None
    begins = np.concatenate(([prepared.begin], steps.ends[:-1]))
    drives = None
    if case.room.kind == "house":
        drives = house_drives(case, prepared.weather, begins, steps.ends)
    chain = chain_of(case, coupling, prepared.timetable, drives, prepared.begin)
    held = chain.start(prepared.room.temperature, prepared.room.temperature)
    return ChainRun(chain, steps, held, longest_step(steps, prepared.begin))
