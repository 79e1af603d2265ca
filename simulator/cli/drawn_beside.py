"""Pictures drawn by a second process, which loads what drawing needs while the first one computes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.answers.cores import local_cores

if TYPE_CHECKING:
    from simulator.answers.window import Window
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["Drawer", "drawer"]

#: The second process looks for modules where this one does and nowhere else; it ends without tidying.
START = (
    "import os, sys; sys.path[:] = sys.argv[1:]; "
    "from simulator.cli.drawing import serve; serve(sys.stdin, sys.stdout); os._exit(0)"
)
HEAVY = "numpy"
PATIENCE = 120.0
"""Seconds after which pictures that are asked for are drawn here."""


class Drawer:
    """Whoever draws the pictures of a run: a second process, or this one where there is none.

    Parameters
    ----------
    process : Popen or None
        Runs `drawing.serve`.
    helped : bool
        Whether `get_ready` is to start one.
    """

    def __init__(self, process: subprocess.Popen[str] | None, *, helped: bool = False) -> None:
        self._process, self._helped = process, helped
        self._ours: tuple[Results, Window, Path, System] | None = None

    def get_ready(self) -> None:
        """Start the second process where it helps: soon there will be pictures to draw."""
        if self._helped and self._process is None:
            self._process = _started()

    def end(self) -> None:
        """End the second process, whatever it does."""
        if self._process is not None:
            _end(self._process)

    def begin(self, results: Results, window: Window, stem: Path, system: System) -> None:
        """Ask for the pictures of `pictures.write_pictures`; the results have to be on disk."""
        from simulator.cli.drawing import Request
        from simulator.cli.pictures import kinds_of

        self._ours = results, window, stem, system
        if self._process is None or self._process.stdin is None or results.path is None:
            return
        request = Request(
            results=str(results.path),
            stem=str(stem),
            kinds=kinds_of(results),
            begin=window.begin.isoformat(),
            end=window.end.isoformat(),
            system=system,
        )
        with suppress(OSError):
            self._process.stdin.write(request.line())
            self._process.stdin.flush()

    def finish(self) -> list[Path]:
        """Wait for the pictures that were asked for, draw those that did not come, and tell their files.

        Raises
        ------
        DuctfloorError
            When a picture cannot be written.
        """
        if self._ours is None:
            return []
        answer = ""
        if self._process is not None:
            # Whatever keeps it busy, nobody waits for it for ever.
            with suppress(subprocess.TimeoutExpired, OSError):
                answer, _ = self._process.communicate(timeout=PATIENCE)
        if answer.endswith("\n"):
            return [Path(path) for path in json.loads(answer)]
        self.end()
        from simulator.cli.pictures import write_pictures

        return write_pictures(*self._ours)


@contextmanager
def drawer(*, wanted: bool) -> Iterator[Drawer]:
    """Give whoever draws; a second process that it starts ends whatever happens.

    None helps where there is one core, or where this process has loaded the libraries anyhow.

    Parameters
    ----------
    wanted : bool
        Whether pictures are wanted at all.
    """
    drawn = Drawer(None, helped=wanted and HEAVY not in sys.modules and local_cores() > 1)
    try:
        yield drawn
    finally:
        drawn.end()


def _started() -> subprocess.Popen[str] | None:
    if not sys.executable:
        return None
    # Threads of the array library are of no use there, and copies of a process are safe without any.
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    try:
        return subprocess.Popen(
            [sys.executable, "-P", "-c", START, *(str(Path(path).absolute()) for path in sys.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            text=True,
            encoding="utf-8",
            # Ctrl-C is for the first process alone, which then ends the second one and its copies.
            start_new_session=True,
        )
    except OSError:
        return None


def _end(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        with suppress(OSError, AttributeError):  # groups are not known everywhere
            os.killpg(process.pid, signal.SIGKILL)
        process.kill()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
    process.wait()
