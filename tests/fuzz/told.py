"""What an error of the project has to look like."""

from __future__ import annotations

from typing import TypeVar

from simulator.errors import DuctfloorError

Error = TypeVar("Error", bound=DuctfloorError)


def told(error: Error) -> Error:
    """See that an error reads as one line of reasonable length without control characters."""
    message = str(error)
    bad = [letter for letter in message if ord(letter) < 32 or 127 <= ord(letter) < 160]
    if not message or bad or len(message) > 2000:
        raise AssertionError(f"not a message: {message[:300]!r}")
    return error
