"""The nearest known word to a misspelt one."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest_word(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like `word`, or None when none is close.

    Letter case, underscores, hyphens and spaces do not count.
    """
    plain = {_plain(other): other for other in known}
    found = difflib.get_close_matches(_plain(word), list(plain), n=1, cutoff=0.6)
    return plain[found[0]] if found else None


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return ``did you mean 'x'?``, or None."""
    found = nearest_word(word, known)
    return None if found is None else f"did you mean {found!r}?"


def _plain(word: str) -> str:
    return word[:60].lower().replace("_", " ").replace("-", " ")
