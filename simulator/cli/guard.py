"""From errors to exit codes: what went wrong is said once, on stderr, without a traceback."""

from __future__ import annotations

import errno
import functools
import sys
from collections.abc import Callable
from typing import Final, ParamSpec, TypeVar

import typer

from simulator.errors import BusyError, DuctfloorError, NoRoomError, SolverError

__all__ = ["BAD_INPUT", "BUSY", "FAILED", "NO_ROOM", "STOPPED", "complain", "guarded", "note"]

FAILED: Final = 1
"""The calculation could not be carried through, or the program has a defect."""
BAD_INPUT: Final = 2
"""Words, case, weather or results that cannot be used, or a place that cannot be written."""
NO_ROOM: Final = 3
"""Disk or memory gave out on the way."""
BUSY: Final = 4
"""Another run is writing the same results."""
STOPPED: Final = 130
"""Ctrl-C."""
_FULL: Final = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}

Parameters = ParamSpec("Parameters")
Outcome = TypeVar("Outcome")


def complain(message: str) -> None:
    """Write one message to stderr; further lines of it stand under the first."""
    indented = message.replace("\n", "\n       ")
    typer.echo(f"error: {indented}", err=True)


def note(message: str) -> None:
    """Write one remark to stderr."""
    typer.echo(f"note: {message}", err=True)


def guarded(command: Callable[Parameters, Outcome]) -> Callable[Parameters, Outcome]:
    """Wrap a command so that every expected error ends as a message and an exit code.

    The exit codes are the constants above; they never change their meaning. Anything else that is raised is a
    defect of the program and keeps its traceback.
    """

    @functools.wraps(command)
    def wrapper(*args: Parameters.args, **kwargs: Parameters.kwargs) -> Outcome:
        _never_choke_on_letters()
        try:
            return command(*args, **kwargs)
        except DuctfloorError as error:
            complain(str(error))
            raise typer.Exit(_code_of(error)) from None
        except BrokenPipeError:
            # Whoever read our output has seen enough; what is still buffered would only complain again.
            sys.stdout = None
            raise typer.Exit(0) from None
        except OSError as error:
            complain(
                f"{error.filename}: {error.strerror}" if error.filename else error.strerror or str(error)
            )
            raise typer.Exit(NO_ROOM if error.errno in _FULL else BAD_INPUT) from None
        except MemoryError:
            complain("not enough memory; make the case coarser (ductfloor check says how large it is)")
            raise typer.Exit(NO_ROOM) from None
        except KeyboardInterrupt as error:
            complain(str(error) or "stopped; nothing half done was left behind")
            raise typer.Exit(STOPPED) from None

    return wrapper


def _code_of(error: DuctfloorError) -> int:
    if isinstance(error, SolverError):
        return FAILED
    if isinstance(error, BusyError):
        return BUSY
    return NO_ROOM if isinstance(error, NoRoomError) else BAD_INPUT


def _never_choke_on_letters() -> None:
    """Let a screen that lacks a letter show a question mark rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
