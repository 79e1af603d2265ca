"""Texts that commands write to files: whole or not at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.errors import DuctfloorError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["write_text"]


def write_text(target: Path, text: str, *, endings: tuple[str, ...]) -> None:
    """Write a text file; an existing one is replaced, but only when all of the new one could be written.

    Raises
    ------
    DuctfloorError
        When the name has another ending, or the file cannot be written.
    """
    if target.suffix.lower() not in endings:
        raise DuctfloorError(
            f"{target}: is written as {' or '.join(endings)}; try {target.with_suffix(endings[0]).name}"
        )
    part = target.with_name(target.name + ".part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(target)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise DuctfloorError(f"{target}: cannot be written: {problem.strerror or problem}") from problem
