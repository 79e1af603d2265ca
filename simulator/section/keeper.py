"""What sections need of whoever keeps arrays from one run to the next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Arrays = Mapping[str, NDArray[np.float64]]

__all__ = ["Keeper", "are_finite", "are_numbers"]


class Keeper(Protocol):
    """Anything that keeps named arrays under a fingerprint."""

    def get(self, fingerprint: str) -> dict[str, NDArray[np.float64]] | None:
        """Return what is kept under a fingerprint, or None."""
        ...

    def put(self, fingerprint: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        """Keep arrays under a fingerprint."""
        ...


def are_finite(kept: Arrays) -> bool:
    """Whether all that is kept is finite."""
    return all(bool(np.isfinite(array).all()) for array in kept.values())


def are_numbers(values: NDArray[np.float64], below: int) -> bool:
    """Whether all are whole numbers from 0 on that are less."""
    return bool(((values >= 0) & (values < below) & (values == np.floor(values))).all())
