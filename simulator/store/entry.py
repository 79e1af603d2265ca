"""One dataset of a results file, as the catalogue lists it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Entry", "coordinate", "entries", "of_part", "series"]


@dataclass(frozen=True)
class Entry:
    """One dataset of the results file.

    Attributes
    ----------
    name : str
    dims : tuple of str
        Names of the coordinates along each axis; a coordinate has itself as its only dimension.
    unit : str
        Unit as stored, in the spelling that readers of climate-and-forecast files understand.
    dtype : str
        Number type in numpy's short spelling.
    long_name : str
        What it is, with the sign convention where there is one.
    part : str
        Empty for what every run has; otherwise the part of a case ("moisture", "flue", "stove" ...) that it
        belongs to.
    """

    name: str
    dims: tuple[str, ...]
    unit: str
    dtype: str
    long_name: str
    part: str = ""

    @property
    def is_temperature(self) -> bool:
        """Whether a run hands it over in kelvin and the file holds degrees Celsius."""
        return self.unit == "degC"


def entries(*listed: Entry) -> Mapping[str, Entry]:
    """Entries by name."""
    return MappingProxyType({entry.name: entry for entry in listed})


def coordinate(name: str, unit: str, dtype: str, long_name: str) -> Entry:
    """Places along an axis."""
    return Entry(name, (name,), unit, dtype, long_name)


def series(name: str, unit: str, long_name: str, *more_dims: str) -> Entry:
    """Values over time."""
    return Entry(name, ("time", *more_dims), unit, "f8", long_name)


def of_part(part: str, *listed: Entry) -> tuple[Entry, ...]:
    """Entries that only cases with this part have."""
    return tuple(replace(entry, part=part) for entry in listed)
