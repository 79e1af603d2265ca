"""What sections need of whoever keeps arrays from one run to the next, and how it is asked."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Arrays = Mapping[str, NDArray[np.float64]]

__all__ = ["Keeper", "are_finite", "are_numbers", "digest_of", "taken_or_made"]

Thing = TypeVar("Thing")


class Keeper(Protocol):
    """Anything that keeps named arrays under a fingerprint."""

    def get(self, fingerprint: str) -> dict[str, NDArray[np.float64]] | None:
        """Return what is kept under a fingerprint, or None."""
        ...

    def put(self, fingerprint: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        """Keep arrays under a fingerprint."""
        ...


def taken_or_made(
    keeper: Keeper | None,
    name: Callable[[], str],
    read: Callable[[Arrays], Thing | None],
    make: Callable[[], Thing],
    arrays_of: Callable[[Thing], Mapping[str, object]],
) -> Thing:
    """Take something from a keeper, or make it and hand it over.

    Parameters
    ----------
    keeper : Keeper or None
    name : callable
        Gives the fingerprint of whatever the thing depends on.
    read : callable
        Puts the thing together out of kept arrays; None when they are not such as `arrays_of` gives.
    make, arrays_of : callable
        Make the thing, and take it apart.
    """
    if keeper is None:
        return make()
    fingerprint = name()
    kept = keeper.get(fingerprint)
    found = None if kept is None else read(kept)
    if found is None:
        found = make()
        arrays = {key: np.asarray(array, dtype=np.float64) for key, array in arrays_of(found).items()}
        keeper.put(fingerprint, arrays)
    return found


def digest_of(about: object, *arrays: NDArray[Any]) -> str:
    """Thirty-two letters that change with the text of something and with every number of some arrays."""
    digest = hashlib.sha256(repr(about).encode())
    for array in arrays:
        digest.update(np.ascontiguousarray(array).tobytes())
    return digest.hexdigest()[:32]


def are_finite(kept: Arrays) -> bool:
    """Whether all that is kept is finite."""
    return all(bool(np.isfinite(array).all()) for array in kept.values())


def are_numbers(values: NDArray[np.float64], below: int) -> bool:
    """Whether all are whole numbers from 0 on that are less."""
    return bool(((values >= 0) & (values < below) & (values == np.floor(values))).all())
