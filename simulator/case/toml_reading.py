"""TOML out of a text: whatever cannot be read is refused in one message, and quickly."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from simulator.errors import CaseError

__all__ = ["LARGEST_TEXT", "read_toml", "too_large"]

LARGEST_TEXT = 1_000_000
"""Letters, or bytes of a file."""
_LONG_KEY = re.compile(r"""(?<![\w"'-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){60}""")
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")


def read_toml(text: str, name: str | None = None) -> dict[str, Any]:
    """Read TOML.

    Parameters
    ----------
    text : str
    name : str, optional
        File it came from, for messages.

    Returns
    -------
    dict

    Raises
    ------
    CaseError
        When the text is too long, no TOML, nested too deeply, or holds a number or date that cannot be.
    """
    if len(text) > LARGEST_TEXT:
        raise too_large(name, "a case file")
    if _LONG_KEY.search(text):
        # The parser takes time that grows with the square of a key's parts.
        raise CaseError("is not TOML that can be read: is nested too deeply", file=name)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        match = _PLACE.search(message)
        line = int(match[1]) if match and match[1] else len(text.rstrip("\n").split("\n"))
        problem = _PLACE.sub("", message)
        raise CaseError(
            f"is not TOML: {problem[:1].lower()}{problem[1:]}",
            file=name,
            line=line,
            fix='keys are written name = value, quantities in quotes: depth = "18 in"',
        ) from None
    except (RecursionError, ValueError) as error:
        problem = (
            "is nested too deeply"
            if isinstance(error, RecursionError)
            else "holds an unusable number or date"
        )
        raise CaseError(f"is not TOML that can be read: {problem}", file=name) from None


def too_large(name: str | None, kind: str) -> CaseError:
    """Return the refusal of a text that is longer than any case."""
    return CaseError(f"is too large for {kind}", file=name, allowed=f"up to {LARGEST_TEXT // 10**6} MB")
