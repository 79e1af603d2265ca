"""What a run needs to go on after it was stopped: named arrays from every part that remembers something.

At the end of a block of steps these parts are the whole truth about a run. A new part needs `snapshot` and
`restore`, and one line where the loop lists its parts.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from simulator.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.run.state import RunState
    from simulator.section.solver import SectionSolver

__all__ = [
    "Checkpoints", "Part", "Place", "StatePart", "check_place", "gather", "hand_out", "section_identity",
]  # fmt: skip


class Part(Protocol):
    """Anything that changes during a run."""

    def snapshot(self) -> Mapping[str, NDArray[Any]]:
        """Return everything that changes, by name; the arrays may be the part's own."""
        ...

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Become what `arrays`, taken by `snapshot` from an equal part, say."""
        ...


class Checkpoints(Protocol):
    """Keeps the arrays of a run somewhere safe."""

    def begin(self, section: str) -> Mapping[str, NDArray[Any]] | None:
        """Return what an unfinished run left that computed with the same section, or None."""
        ...

    def due(self) -> bool:
        """Whether it is time to keep the state again."""
        ...

    def save(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Keep the state at the end of a block."""
        ...


@dataclass
class Place:
    """How far a run has come.

    Attributes
    ----------
    block : int
        Blocks of steps done.
    step : int
        Steps done.
    row : int
        Last row told.
    """

    block: int = 0
    step: int = 0
    row: int = 0

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """See Part."""
        return {"place": np.array([self.block, self.step, self.row], dtype=np.int64)}

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """See Part."""
        self.block, self.step, self.row = (int(number) for number in arrays["place"])


@dataclass(frozen=True)
class StatePart:
    """A run's state as a part.

    Attributes
    ----------
    state : RunState
    """

    state: RunState

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """See Part."""
        state = self.state
        arrays: dict[str, NDArray[Any]] = {"tick": np.array(state.tick), "section": state.section}
        arrays |= {f"moving.{name}": array for name, array in state.moving._asdict().items()}
        for one in fields(state.ledger):
            arrays[f"ledger.{one.name}"] = np.asarray(getattr(state.ledger, one.name))
        return arrays

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """See Part."""
        state = self.state
        state.tick = int(arrays["tick"])
        state.section = arrays["section"]
        for name, array in state.moving._asdict().items():
            array[...] = arrays[f"moving.{name}"]
        for one in fields(state.ledger):
            value = arrays[f"ledger.{one.name}"]
            setattr(state.ledger, one.name, value.copy() if value.ndim else value.item())


def gather(parts: Mapping[str, Part]) -> dict[str, NDArray[Any]]:
    """Arrays of all parts, each under the name of its part and its own."""
    return {
        f"{name}.{inner}": np.asarray(array)
        for name, part in parts.items()
        for inner, array in part.snapshot().items()
    }


def hand_out(parts: Mapping[str, Part], arrays: Mapping[str, NDArray[Any]]) -> None:
    """Give every part its arrays back.

    Raises
    ------
    StoreError
        When an array is missing or has another shape than the part would have written.
    """
    for name, part in parts.items():
        mine: dict[str, NDArray[Any]] = {}
        for inner, now in part.snapshot().items():
            kept = arrays.get(f"{name}.{inner}")
            if kept is None or kept.shape != now.shape or kept.dtype != now.dtype:
                problem = f"the unfinished run does not fit this case: {name}.{inner} differs"
                raise StoreError(problem, fix="start it anew with --no-resume")
            mine[inner] = kept
        part.restore(mine)


def check_place(
    place: Place, tick: int, begin: int, step_ends: NDArray[np.int64], dues: NDArray[np.int64]
) -> None:
    """See that steps done, time and rows told belong together.

    Parameters
    ----------
    place : Place
    tick : int
        Of the state.
    begin : int [ticks]
        Of the run.
    step_ends : (n,) int [ticks]
    dues : (rows - 1,) int
        Steps at whose ends rows are due, the first row apart.

    Raises
    ------
    StoreError
        When they do not; going on would skip a part of the run, or never end.
    """
    there = 0 <= place.step <= step_ends.size
    reached = there and tick == (int(step_ends[place.step - 1]) if place.step else begin)
    told = int(np.searchsorted(dues, place.step)) if tick > 0 else 0
    if not (reached and place.block >= 0 and place.row == told):
        problem = "the unfinished run does not fit together: steps, time and rows differ"
        raise StoreError(problem, fix="start it anew with --no-resume")


def section_identity(solver: SectionSolver) -> str:
    """Fingerprint of the numbers a section solver computes with.

    Returns
    -------
    str
        SHA-256 in hexadecimal of the modal form, or of the full mesh's matrices where there is none.
    """
    modal, operators = solver.modal, solver.operators
    if modal is not None:
        arrays: tuple[NDArray[Any], ...] = (modal.rates, modal.injection, modal.reading, modal.capacity)
    else:
        links = operators.links
        arrays = (links.rows, links.columns, links.values, operators.injection, operators.reading)
    digest = hashlib.sha256(f"{solver.name}, {solver.size} states".encode())
    for array in (*arrays, operators.capacity):
        digest.update(np.ascontiguousarray(array).tobytes())
    return digest.hexdigest()
