"""Tables of results as CSV, JSON and HDF5: columns with names, units and meanings, written whole or not."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import h5py
import numpy as np

from simulator.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Column", "as_data", "write_csv", "write_hdf5", "write_json"]


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
    values : tuple of float, str or None
        None where there is nothing to tell.
    unit : str
        Empty for words, "1" for numbers without unit.
    meaning : str
    """

    name: str
    values: tuple[float | int | str | None, ...]
    unit: str = ""
    meaning: str = ""

    @property
    def numeric(self) -> bool:
        """Whether it holds numbers."""
        return bool(self.unit)


def write_csv(columns: Sequence[Column], path: Path) -> Path:
    """Write a table as comma-separated values, RFC 4180, with the units in the first line.

    Raises
    ------
    StoreError
        When the file cannot be written.
    """
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer)
    writer.writerow(
        [
            f"{column.name} [{column.unit}]" if column.unit not in ("", "1") else column.name
            for column in columns
        ]
    )
    for row in zip(*(column.values for column in columns), strict=True):
        writer.writerow(["" if _missing(value) else _safe(value) for value in row])
    return _put(path, buffer.getvalue().encode("utf-8"))


def as_data(columns: Sequence[Column], about: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table as plain data: what it is about, its columns, and one entry for each row."""
    return {
        **about,
        "columns": {column.name: {"unit": column.unit, "meaning": column.meaning} for column in columns},
        "rows": [
            {
                column.name: None if _missing(value) else value
                for column, value in zip(columns, row, strict=True)
            }
            for row in zip(*(column.values for column in columns), strict=True)
        ],
    }


def write_json(data: Mapping[str, Any], path: Path) -> Path:
    """Write plain data as JSON.

    Raises
    ------
    StoreError
        When the file cannot be written.
    """
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)
    return _put(path, f"{text}\n".encode())


def write_hdf5(columns: Sequence[Column], about: Mapping[str, Any], path: Path) -> Path:
    """Write a table as HDF5: one dataset for each column, with `units` and `long_name`, along `member`.

    Raises
    ------
    StoreError
        When the file cannot be written.
    """
    count = len(columns[0].values) if columns else 0
    with h5py.File("table", "w", driver="core", backing_store=False, track_order=True) as file:
        for name, value in about.items():
            file.attrs[name] = value if isinstance(value, str | int | float) else json.dumps(value)
        members = file.create_dataset("member", data=np.arange(1, count + 1, dtype=np.int64))
        members.make_scale("member")
        members.attrs.update({"units": "1", "long_name": "number of the run, from 1"})
        for column in columns:
            if column.name == "member":
                continue
            data: Any
            if column.numeric:
                data = np.array(
                    [math.nan if _missing(value) else value for value in column.values], dtype=float
                )
            else:
                data = ["" if value is None else str(value) for value in column.values]
            # A slash would be read as a folder.
            dataset = file.create_dataset(
                column.name.replace("/", " per "), data=data,
                dtype=None if column.numeric else h5py.string_dtype(),
            )  # fmt: skip
            dataset.dims[0].attach_scale(members)
            dataset.attrs["long_name"] = column.meaning or column.name
            if column.numeric:
                dataset.attrs["units"] = column.unit
        file.flush()
        image = file.id.get_file_image()
    return _put(path, image)


def _missing(value: object) -> bool:
    return value is None or (isinstance(value, float) and not math.isfinite(value))


def _safe(value: object) -> str:
    """Write a cell; text that a spreadsheet would take for a formula gets a quote before it."""
    if isinstance(value, float):
        return repr(value)
    text = str(value)
    return f"'{text}" if text[:1] in ("=", "+", "@") else text


def _put(path: Path, content: bytes) -> Path:
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        problem = f"cannot be written: {error.strerror or error}"
        raise StoreError(problem, path=str(path), fix="choose another place") from None
    return path
