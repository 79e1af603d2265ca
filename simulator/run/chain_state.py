"""What changes in the heat chain during a run, and how everything is switched."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.run.chain_guess import Course
from simulator.run.switching import Rules

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.case.timetable import Drive

REMEMBERED = ("plant", "masses", "plant_totals", "house_totals", "plant_now", "house_now", "gas_now")
"""Arrays of the chain's state."""


@dataclass(frozen=True)
class Mishap:
    """An upset of a case, on the clock.

    Attributes
    ----------
    begin, end : int [ticks]
    kind : str
    size : float
    """

    begin: int
    end: int
    kind: str
    size: float


@dataclass(frozen=True)
class Settings:
    """What is switched how during a step, after timetable, rules and mishaps.

    Attributes
    ----------
    fan, feed, pump, cover : float
        Shares.
    overfeed : float
        Burning rate over what was meant.
    drive : Drive
        The timetable's own, for a heater that is no stove.
    """

    fan: float
    feed: float
    pump: float
    cover: float
    overfeed: float
    drive: Drive

    @property
    def same_flow(self) -> tuple[float, ...]:
        """What changes in a jump when it changes."""
        return (self.fan, self.feed, self.pump, self.cover, self.overfeed)


@dataclass
class ChainState:
    """What changes in the chain.

    Attributes
    ----------
    plant : (n,) float
        State of stove and water, as `plant.layout_kernels` lays it out.
    masses : (M,) float [K]
        Of the house.
    plant_totals, house_totals : float
        Running totals of the flows since the books were opened.
    drawn : float [J]
        Heat lost with the air that the fire draws from the room.
    plant_now, house_now : float [K]
        Temperatures as the last step left them.
    gas_now : (2,) float
        Combustion gas [kg/s] and fuel [kg/s], means of the last step.
    floor : float [K]
        Mean floor surface of the last step.
    sky : float [K]
        Of the last step.
    fan_power : float [W]
        Of the last step.
    rules : Rules
    switched : int [ticks]
        Of the last jump.
    course : Course
        How room, floor and humidity went in the last step taken, kept even where a step is taken back.
    seen : (tick, dict of str to float) or None
        What the rules measured last.
    settings : Settings or None
        Of the last step.
    unsettled : int
        Steps whose parts did not agree.
    """

    plant: NDArray[np.float64]
    masses: NDArray[np.float64]
    plant_totals: NDArray[np.float64]
    house_totals: NDArray[np.float64]
    plant_now: NDArray[np.float64]
    house_now: NDArray[np.float64]
    gas_now: NDArray[np.float64]
    rules: Rules
    floor: float
    sky: float = 273.15
    drawn: float = 0.0
    fan_power: float = 0.0
    switched: int = field(default=np.iinfo(np.int64).min // 2)
    settings: Settings | None = None
    unsettled: int = 0
    course: Course = field(default_factory=Course)
    seen: tuple[int, dict[str, float]] | None = None

    def saved(self) -> tuple[Any, ...]:
        """Everything that a step changes, to come back to."""
        arrays = {name: getattr(self, name).copy() for name in REMEMBERED}
        return arrays, self.floor, self.drawn, self.fan_power, self.settings, self.unsettled

    def restore(self, saved: tuple[Any, ...]) -> None:
        """Come back to what `saved` returned."""
        arrays, self.floor, self.drawn, self.fan_power, self.settings, self.unsettled = saved
        for name, values in arrays.items():
            setattr(self, name, values.copy())

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """See `checkpoint.Part`."""
        now = self.settings
        return {
            **{name: getattr(self, name) for name in REMEMBERED},
            "engaged": self.rules.engaged,
            "free_from": self.rules.free_from,
            "numbers": np.array([self.floor, self.sky, self.drawn, self.fan_power]),
            "counts": np.array([self.switched, self.unsettled], dtype=np.int64),
            "settings": np.full(5, math.nan) if now is None else np.array(now.same_flow),
            "course": self.course.numbers(),
        }

    def restore_from(self, arrays: Mapping[str, NDArray[Any]], drive: Drive) -> None:
        """Become what `snapshot` gave; `drive` is the timetable's of the moment."""
        for name in REMEMBERED:
            setattr(self, name, np.array(arrays[name], dtype=np.float64))
        self.rules.engaged = np.array(arrays["engaged"], dtype=bool)
        self.rules.free_from = np.array(arrays["free_from"], dtype=np.int64)
        self.floor, self.sky, self.drawn, self.fan_power = (float(value) for value in arrays["numbers"])
        self.switched, self.unsettled = (int(value) for value in arrays["counts"])
        fan, feed, pump, cover, overfeed = (float(value) for value in arrays["settings"])
        self.settings = None if math.isnan(fan) else Settings(fan, feed, pump, cover, overfeed, drive)
        self.course, self.seen = Course.of(arrays["course"]), None
