"""What an error of the project has to look like."""

from __future__ import annotations

from typing import TypeVar

from simulator.errors import DuctfloorError

Error = TypeVar("Error", bound=DuctfloorError)


def told(error: Error) -> Error:
    """See that an error reads as few lines of reasonable length without control characters."""
    message = str(error)
    lines = message.split("\n")
    bad = [letter for line in lines for letter in line if ord(letter) < 32 or 127 <= ord(letter) < 160]
    # Of many problems of a case file twenty follow the first, a line each.
    if not all(lines) or bad or max(map(len, lines)) > 2000 or len(lines) > 21:
        raise AssertionError(f"not a message: {message[:300]!r}")
    return error
