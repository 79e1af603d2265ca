"""How many cores there are to share work among."""

from __future__ import annotations

import os

__all__ = ["local_cores"]


def local_cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # no such call on this system
        return os.cpu_count() or 1
