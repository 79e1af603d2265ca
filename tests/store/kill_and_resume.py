"""Run a case in processes that are killed at random moments, and compare what a later run makes of it.

A program of its own, so that nothing of the test runner is in the processes that are forked and killed:

    python kill_and_resume.py CASE FOLDER KILLS SEED

prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).parents[2]))

import h5py
import numpy as np

from simulator.case.loader import load
from simulator.run import loop
from simulator.store import checkpoint, writer
from simulator.store.reader import Results
from simulator.store.record import record

WALL_CLOCK = {"summary_build_seconds", "summary_run_seconds"}


def start(case: Path, out: Path, resume: bool | None) -> int:
    """Fork a process that runs the case; the last words about an unfinished run go beside the results."""
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        record(load(case), out, resume=resume, say=out.with_suffix(".said").write_text).close()
        code = 0
    finally:
        os._exit(code)


def kill_after(child: int, seconds: float) -> None:
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def finish(child: int) -> None:
    _, status = os.waitpid(child, 0)
    if status != 0:
        raise SystemExit(f"a run ended with status {status}")


def content(path: Path) -> dict[str, object]:
    """Everything in a results file but the times it took, bit by bit."""
    found: dict[str, object] = {}
    with h5py.File(path, "r") as file:
        for owner in (file, *file.values()):
            for name, value in owner.attrs.items():
                if name not in WALL_CLOCK and name != "REFERENCE_LIST":
                    found[f"{owner.name}@{name}"] = (
                        np.asarray(value).tolist() if name != "DIMENSION_LIST" else 0
                    )
        for name, dataset in file.items():
            values = dataset[()]
            found[name] = (str(values.dtype), values.shape, values.tobytes())
    return found


def readable(part: Path, reference: Path) -> int:
    """Read every counted row of an unfinished file and compare it with the whole run; return their number."""
    with Results(part) as results, Results(reference) as whole:
        # Between its last write and its move into place a file is whole already.
        if results.complete and results.rows != whole.rows:
            raise SystemExit("an unfinished file says it is whole")
        for name in results:
            if results.dims(name)[0] in {"time", "field_time"}:
                rows = results[name].values
                if rows.tobytes() != whole.read(name, slice(len(rows))).tobytes():
                    raise SystemExit(f"{name} of an unfinished file differs")
        return results.rows


def main() -> None:
    # Often, so that a short run meets every kind of moment.
    loop.MOST_ROWS = 16
    checkpoint.SHORTEST_WAIT = 0.02
    checkpoint.LARGEST_SHARE = 0.5
    writer._SECONDS_BETWEEN_COMMITS = 0.005
    case, folder, kills, seed = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
    chance = random.Random(seed)
    reference = folder / "reference" / "night.h5"
    reference.parent.mkdir()
    record(load(case), reference).close()  # loads the compiled loops once for all processes forked below
    began = time.monotonic()
    finish(start(case, reference, False))
    length = time.monotonic() - began
    expected = content(reference)
    counts = {"kills": 0, "with_file": 0, "with_rows": 0, "gone_on": 0, "twice": 0, "identical": 0}
    for number in range(kills):
        place = folder / f"run-{number}"
        place.mkdir()
        out = place / "night.h5"
        kill_after(start(case, out, None), chance.uniform(0.0, 1.05 * length))
        counts["kills"] += 1
        # Every third run is killed once more while it goes on.
        for again in (True, False) if number % 3 == 0 else (False,):
            part = place / "night.h5.part"
            if part.exists():
                counts["with_file"] += 1
                try:
                    counts["with_rows"] += readable(part, reference) > 0
                except Exception:
                    # Killed while the file was being made: nothing counted yet, and no checkpoint either.
                    if (place / "night.h5.checkpoint").exists():
                        raise
            child = start(case, out, True)
            if again:
                counts["twice"] += 1
                kill_after(child, chance.uniform(0.0, length))
            else:
                finish(child)
        said = out.with_suffix(".said")
        counts["gone_on"] += said.exists() and said.read_text().startswith("going on with the unfinished run")
        counts["identical"] += content(out) == expected
        left = sorted(path.name for path in place.iterdir() if path != said)
        if left != ["night.h5"]:
            raise SystemExit(f"left behind: {left}")
        shutil.rmtree(place)
    print(json.dumps({**counts, "seconds": length}))


if __name__ == "__main__":
    main()
