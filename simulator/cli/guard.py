"""From errors to exit codes: what went wrong is said once, on stderr, without a traceback."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import Final, ParamSpec, TypeVar

import typer

from simulator.errors import DuctfloorError, SolverError

__all__ = ["BAD_INPUT", "FAILED", "STOPPED", "complain", "guarded"]

FAILED: Final = 1
BAD_INPUT: Final = 2
STOPPED: Final = 130

Parameters = ParamSpec("Parameters")
Outcome = TypeVar("Outcome")


def complain(message: str) -> None:
    """Write one message to stderr."""
    typer.echo(f"error: {message}", err=True)


def guarded(command: Callable[Parameters, Outcome]) -> Callable[Parameters, Outcome]:
    """Wrap a command so that every expected error ends as a message and an exit code.

    Bad input and files that cannot be used end with 2, a calculation that failed with 1, ctrl-C with 130.
    Anything else is a defect of the program and keeps its traceback.
    """

    @functools.wraps(command)
    def wrapper(*args: Parameters.args, **kwargs: Parameters.kwargs) -> Outcome:
        _never_choke_on_letters()
        try:
            return command(*args, **kwargs)
        except DuctfloorError as error:
            complain(str(error))
            raise typer.Exit(FAILED if isinstance(error, SolverError) else BAD_INPUT) from None
        except BrokenPipeError:
            # Whoever read our output has seen enough; what is still buffered would only complain again.
            sys.stdout = None
            raise typer.Exit(0) from None
        except OSError as error:
            complain(f"{error.filename}: {error.strerror}" if error.filename else str(error))
            raise typer.Exit(BAD_INPUT) from None
        except KeyboardInterrupt:
            complain("stopped; nothing half done was left behind")
            raise typer.Exit(STOPPED) from None

    return wrapper


def _never_choke_on_letters() -> None:
    """Let a screen that lacks a letter show a question mark rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
