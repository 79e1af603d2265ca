"""From the command to its pictures: seconds by the wall of whole processes that find everything kept."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parent.parent
CASES = ("overnight", "duct-short", "flue-run")
COMMAND = f"import sys; sys.path.insert(0, {str(ROOT)!r}); from simulator.cli.app import main; main()"
LIBRARIES = (
    "import numpy, pydantic, h5py, numba, typer, PIL.Image; "
    "import matplotlib.figure, matplotlib.backends.backend_agg"
)
#: Ends the command where it would take its first step.
FIRST_STEP = f"""
import os, sys
from importlib.machinery import PathFinder
sys.path.insert(0, {str(ROOT)!r})
class Stop:
    def find_spec(self, name, path=None, target=None):
        if name != "simulator.run.loop":
            return None
        spec = PathFinder.find_spec(name, path)
        load = spec.loader.exec_module
        def load_and_patch(module):
            load(module)
            module._march = lambda *_: os._exit(0)
        spec.loader.exec_module = load_and_patch
        return spec
sys.meta_path.insert(0, Stop())
from simulator.cli.app import main
main()
"""


def measure(*, smoke: bool) -> Iterator[dict[str, Any]]:
    """Give an entry for each of the first cases, all measured in turn.

    Parameters
    ----------
    smoke : bool
        Once only: does it still run?

    Yields
    ------
    dict
        `seconds` of the command with its pictures, `first_step_seconds` until it would march, `peer_seconds`
        of a process that loads the same libraries and does nothing, `interpreter_seconds` and
        `help_seconds`; all medians; `ratio` is that of the peer's to ours.
    """
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        kinds = {"peer": [LIBRARIES], "interpreter": ["pass"], "help": [COMMAND, "--help"]}
        for case in CASES:
            words = ["run", str(ROOT / "cases" / f"{case}.toml"), "--out", f"{case}.h5"]
            _seconds([COMMAND, *words], place)
            kinds[case] = [COMMAND, *words]
            kinds[f"{case} first step"] = [FIRST_STEP, *words, "--no-resume"]
        found: dict[str, list[float]] = {kind: [] for kind in kinds}
        for _ in range(1 if smoke else 9):
            for kind, words in kinds.items():
                found[kind].append(_seconds(words, place))
    middle = {kind: statistics.median(seconds) for kind, seconds in found.items()}
    for case in CASES:
        yield {
            "name": f"start-{case}",
            "peer": "loading the same libraries one after another",
            "seconds": middle[case],
            "seconds_least": min(found[case]),
            "first_step_seconds": middle[f"{case} first step"],
            "peer_seconds": middle["peer"],
            "help_seconds": middle["help"],
            "interpreter_seconds": middle["interpreter"],
            "ratio": middle["peer"] / middle[case],
        }


def _seconds(words: list[str], folder: Path) -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", *words], cwd=folder, check=True, capture_output=True)
    return time.perf_counter() - began
