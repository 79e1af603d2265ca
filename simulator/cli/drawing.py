"""The second process that draws the pictures of a run: it gets ready meanwhile, and draws when it is told.

It reads one line, the request, and answers with one, the files written, once all of them are whole. Should
anything go wrong it ends without an answer, and the first process draws for itself (`drawn_beside.py`).
"""

from __future__ import annotations

import gc
import json
import os
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, cast

from simulator.answers.cores import local_cores
from simulator.answers.window import Window

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.cli.pictures import Kind

__all__ = ["Request", "serve"]


@dataclass(frozen=True)
class Request:
    """What to draw.

    Attributes
    ----------
    results, stem : str
        The results file; folder and name that the pictures' names begin with.
    kinds : list of str
        Which pictures; see `pictures.kinds_of`.
    begin, end : str
        Of the night, as ISO 8601 has them.
    system : {"SI", "US"}
        Units that come first.
    """

    results: str
    stem: str
    kinds: list[Kind]
    begin: str
    end: str
    system: str

    def line(self) -> str:
        """Pack into one line."""
        return json.dumps(asdict(self)) + "\n"


def serve(asked: TextIO, answer: TextIO) -> None:
    """Get ready, wait for a request, carry it out and tell the files; without a request, end.

    Raises
    ------
    DuctfloorError
        When a picture cannot be written.
    RuntimeError
        When a copy of this process that draws some of the pictures failed.
    """
    _get_ready()
    line = asked.readline()
    if not line:
        return
    written = _draw(Request(**json.loads(line)))
    answer.write(json.dumps([str(path) for path in written]) + "\n")
    answer.flush()


def _get_ready() -> None:
    """Load what drawing needs, type and schema and all, by drawing once for nobody."""
    gc.disable()
    from simulator.cli.spared import spare_help_texts, spare_tools

    spare_tools()
    spare_help_texts()
    from simulator.case.loader import load_text, starter_text
    from simulator.look import chain_chart, charts, flue_chart, maps  # noqa: F401
    from simulator.look.save import packed
    from simulator.look.theme import new_figure, under_theme
    from simulator.store import reader  # noqa: F401

    # The first case that is read builds the schema of all.
    load_text(starter_text())
    with under_theme():
        figure = new_figure(1.0)
        axes = figure.add_subplot()
        axes.set_title("0")
        packed(figure, "png")
    gc.freeze()


def _draw(request: Request) -> list[Path]:
    from simulator.cli.pictures import picture_path, write_picture
    from simulator.store.reader import Results

    window = Window(datetime.fromisoformat(request.begin), datetime.fromisoformat(request.end))
    stem = Path(request.stem)

    def draw(kind: Kind) -> None:
        with Results(request.results, own=True) as results:
            write_picture(kind, results, window, stem, cast("System", request.system))

    _all_of([partial(draw, kind) for kind in request.kinds])
    return [picture_path(kind, stem) for kind in request.kinds]


def _all_of(jobs: list[Callable[[], None]]) -> None:
    """Carry jobs out with copies of this process beside it, one a core, where the system makes them safely.

    This process has no threads, and has opened no file that a job uses.

    Raises
    ------
    RuntimeError
        When a copy failed.
    """
    helpers = min(local_cores(), len(jobs)) - 1 if sys.platform == "linux" else 0
    # One byte stands for each job; whoever reads it carries it out.
    open_jobs, more = os.pipe()
    os.write(more, bytes(range(len(jobs))))
    os.close(more)

    def work() -> None:
        while number := os.read(open_jobs, 1):
            jobs[number[0]]()

    copies = [_copy_for(work) for _ in range(helpers)]
    try:
        work()
    finally:
        ends = [os.waitpid(copy, 0)[1] for copy in copies]
        os.close(open_jobs)
    if any(ends):
        message = f"of the processes that draw some failed: {ends}"
        raise RuntimeError(message)


def _copy_for(job: Callable[[], None]) -> int:
    number = os.fork()
    if number:
        return number
    end = 1
    try:
        job()
        end = 0
    finally:
        os._exit(end)
