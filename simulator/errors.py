"""The exceptions a user may meet: each says what was wrong, where, and what to do about it.

This module imports nothing of the project, so every other module may raise them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

_LONGEST_VALUE = 80
_MOST_OTHERS = 20
_LONGEST_MESSAGE = 1500


def _short(value: object) -> str:
    """Write a value the way a case file would, cut to a readable length."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    elif isinstance(value, dt.datetime | dt.date | dt.time):
        text = value.isoformat()
    else:
        text = str(value)
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return text if len(text) <= _LONGEST_VALUE else text[: _LONGEST_VALUE - 3] + "..."


def _one_line(text: str) -> str:
    """Show a message as one line of letters, cut in its middle where names or cells of a file are huge."""
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    half = _LONGEST_MESSAGE // 2
    return text if len(text) <= _LONGEST_MESSAGE else f"{text[:half]} ... {text[-half:]}"


class DuctfloorError(Exception):
    """Any problem that is explained to the user in one message instead of a traceback.

    The message is one line without control characters, whatever text of a file or a command line it quotes;
    further problems of a case file follow, a line each.
    """

    def __str__(self) -> str:
        return _one_line(super().__str__())


class CaseError(DuctfloorError):
    """A case file, or a file it names, that cannot be used.

    Parameters
    ----------
    problem : str
        What is wrong, in words, without the place.
    file : str, optional
        Name of the file as the user gave it.
    line : int, optional
        Line in that file, counted from 1.
    key : str, optional
        Dotted key such as ``"ground.layers[1].thickness"`` (list entries counted from 1).
    value : object, optional
        The value found there; left out of the message when None.
    allowed : str, optional
        What would have been accepted.
    fix : str, optional
        The likely remedy.
    more : int, optional
        How many further problems were found and are not told.
    others : sequence of CaseError, optional
        Further problems, told a line each; of many the first twenty.
    """

    def __init__(
        self,
        problem: str,
        *,
        file: str | None = None,
        line: int | None = None,
        key: str | None = None,
        value: object = None,
        allowed: str | None = None,
        fix: str | None = None,
        more: int = 0,
        others: Sequence[CaseError] = (),
    ) -> None:
        super().__init__(problem)
        self.problem = problem
        self.file = file
        self.line = line
        self.key = key
        self.value = value
        self.allowed = allowed
        self.fix = fix
        self.others = tuple(others)
        self.more = more or len(self.others)

    def __str__(self) -> str:
        place = ""
        if self.file is not None:
            place += f"{self.file}:"
        if self.line is not None:
            place += f"{self.line}:" if self.file is not None else f"line {self.line}:"
        if place:
            place += " "
        if self.key is not None:
            place += self.key if self.value is None else f"{self.key} = {_short(self.value)}"
            place += ": "
        elif self.value is not None:
            place += f"{_short(self.value)}: "
        text = place + self.problem
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        if self.fix:
            text += f"; {self.fix}"
        told = self.others[:_MOST_OTHERS]
        left = self.more - len(told)
        lines = [_one_line(text), *(str(other) for other in told)]
        if left > 0:
            lines[-1] += f" (and {left} more problem{'s' if left > 1 else ''})"
        return "\n".join(lines)


class SolverError(DuctfloorError):
    """A calculation that could not be carried through, for example one that left the finite numbers.

    Parameters
    ----------
    problem : str
        What went wrong.
    time : str, optional
        Simulated time at which it happened.
    fix : str, optional
        The likely remedy.
    """

    def __init__(self, problem: str, *, time: str | None = None, fix: str | None = None) -> None:
        super().__init__(problem)
        self.problem = problem
        self.time = time
        self.fix = fix

    def __str__(self) -> str:
        text = self.problem if self.time is None else f"at {self.time}: {self.problem}"
        return _one_line(text if not self.fix else f"{text}; {self.fix}")


class StoreError(DuctfloorError):
    """A results file that cannot be written or read.

    Parameters
    ----------
    problem : str
        What went wrong.
    path : str or pathlib.Path, optional
        The results file.
    fix : str, optional
        The likely remedy.
    """

    def __init__(self, problem: str, *, path: str | Path | None = None, fix: str | None = None) -> None:
        super().__init__(problem)
        self.problem = problem
        self.path = None if path is None else str(path)
        self.fix = fix

    def __str__(self) -> str:
        text = self.problem if self.path is None else f"{self.path}: {self.problem}"
        return _one_line(text if not self.fix else f"{text}; {self.fix}")


class BusyError(StoreError):
    """Results that another run is writing at this moment."""


class NoRoomError(StoreError):
    """Storage that gave out during a run: a full disk, a lost permission, a drive that is gone."""
