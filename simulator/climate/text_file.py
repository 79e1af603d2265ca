"""Reading of a text file that a case names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.errors import CaseError

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_FILE = 500_000_000
"""Largest file read [bytes]: far above twenty years of minutes."""


def read_text_of(path: Path, shown: str) -> str:
    """Return the text of a file.

    Parameters
    ----------
    path : Path
    shown : str
        The name to use in messages, as the user gave it.

    Raises
    ------
    CaseError
        When the file is missing, unreadable, too large or not text.
    """
    try:
        if path.exists() and not path.is_file():
            raise CaseError("is not an ordinary file", file=shown, fix="give a file of text")
        if path.stat().st_size > LARGEST_FILE:
            raise CaseError("the file is too large", file=shown, allowed=f"up to {LARGEST_FILE:d} bytes")
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise CaseError(
            "no such file", file=shown, fix="names of files are relative to the folder of the case file"
        ) from None
    except UnicodeDecodeError as error:
        raise CaseError(
            f"is not a text file in UTF-8 (byte {error.start})", file=shown, fix="save it as UTF-8 text"
        ) from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise CaseError(f"cannot be read: {reason}", file=shown) from None
    if not text.strip():
        raise CaseError("the file is empty", file=shown)
    return text
