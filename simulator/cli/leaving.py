"""How the command ends: the memory of a process goes back at once, rather than object by object."""

from __future__ import annotations

import atexit
import os
import sys
import threading
from typing import NoReturn

__all__ = ["leave"]


def leave(end: SystemExit) -> NoReturn:
    """End the process as `end` would, without taking apart what it holds, which takes a thirtieth of a run.

    Whatever asked to be called at the end is called. Where something still runs beside the command, or what
    it printed cannot be handed over, the interpreter ends as it always does.

    Parameters
    ----------
    end : SystemExit
        Carries the exit code.
    """
    code = 0 if end.code is None else end.code
    if not isinstance(code, int) or threading.active_count() > 1:
        raise end
    try:
        atexit._run_exitfuncs()
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except Exception:  # noqa: BLE001 - what an exit function raises is the interpreter's to tell
        raise end from None
    os._exit(code)
