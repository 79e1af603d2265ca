"""Good inputs to begin with, as small as they can be."""

from __future__ import annotations

import atexit
import io
import json
import shutil
import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from simulator.run.observers import Geometry
from simulator.store.reader import Results

ROOT = Path(__file__).parents[2]


@cache
def place() -> Path:
    """Folder in memory for files that are read; it goes away with the process."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="broken-", dir=memory if memory.is_dir() else None))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def image_of(results: Results) -> bytes:
    """Bytes of results in memory."""
    return bytes(results._file.id.get_file_image())


@cache
def results_seed() -> bytes:
    """Small made-up results of a floor that a heater warms."""
    from tests.look.made_up import Shape, make_results

    with make_results(Shape(hours=9.0, rows_per_hour=1.0, maps=2, stations=2, ducts=2)) as results:
        return image_of(results)


@cache
def chain_seed(title: str = "All of it") -> bytes:
    """Small results of a run with stove, tank, house, moisture and flue, filled with noise."""
    from simulator.case.loader import load
    from simulator.store.writer import ResultsWriter
    from tests.store.conftest import build_geometry, build_moments

    case = load(ROOT / "cases" / "pump-failure.toml").model_copy(update={"title": title})
    geometry = build_geometry(rows=5, maps=2, stations=2, lanes=1, floor=2, wide=3, deep=3)
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    for moment in build_moments(geometry):
        writer.record(moment)
    writer.finish({"steps": 1, "largest_ledger_residual": 0.1})
    with writer.results() as results:
        return image_of(results)


def stopped_geometry() -> Geometry:
    """Places of the run that was stopped."""
    from tests.store.conftest import build_geometry

    return build_geometry(stations=2, lanes=1, floor=2, wide=3, deep=3, parts=frozenset())


@cache
def unfinished_seed() -> tuple[bytes, bytes]:
    """Checkpoint and unfinished file of a run that was stopped after five of seven rows."""
    from simulator.run.checkpoint import Place, gather
    from simulator.store.checkpoint import write_checkpoint
    from simulator.store.writer import ResultsWriter
    from tests.store.conftest import SmallCase, build_moments

    geometry = stopped_geometry()
    path = place() / "stopped.h5"
    writer = ResultsWriter(path)
    writer.start(SmallCase(), geometry)
    for moment in build_moments(geometry)[:5]:
        writer.record(moment)
    arrays = {**writer.secure(), **gather({"place": Place(1, 4, 4)})}
    write_checkpoint(place() / "seed", {"identity": {"files": {}}, "rows": [5, 7]}, arrays)
    part = path.with_name(path.name + ".part")
    # The writer holds a lock on the file, so its bytes are copied while it is open.
    found = (place() / "seed").read_bytes(), part.read_bytes()
    writer.abort()
    return found


@cache
def reduction_seed() -> bytes:
    """A kept reduction of three modes of seven cells."""
    buffer = io.BytesIO()
    np.savez(
        buffer,
        modes=np.linspace(-1.0, 1.0, 21).reshape(7, 3),
        rates=np.array([1e-6, 1e-5, 1e-4]),
        error=np.array(0.001),
        shifts=np.array([1e-5, 1e-4]),
    )
    return buffer.getvalue()


@cache
def member_seed() -> bytes:
    """What is kept of one run of many."""
    from simulator.answers.outputs import OUTPUTS

    values: dict[str, object] = dict.fromkeys(OUTPUTS, 280.0)
    values |= {name: "none" for name, output in OUTPUTS.items() if not output.numeric}
    outcome = {"values": values, "error": "", "bad_input": False, "seconds": 1.5, "reduced": True}
    return json.dumps({**outcome, "fingerprint": "0" * 40}).encode()


def csv_seed() -> bytes:
    """Thirty hours, with the marks a logger leaves."""
    rows = [f"2031-01-{15 + hour // 24:02d} {hour % 24:02d}:00,{30 + hour % 9},{max(0, hour % 24 - 6) * 20}"
            for hour in range(12, 42)]  # fmt: skip
    return "\n".join(["# gate", "when,out,sun", *rows]).encode()


def wide_csv_seed() -> bytes:
    """A table with every column there may be, at times of its own choosing."""
    rows = [
        f"{hour * 1.5},{20 + hour % 9},{hour * 3 % 500},0,{hour % 80},{40 + hour % 50},{hour % 7},{hour % 10}"
        for hour in range(-20, 40)
    ]
    return "\n".join(["h,out,sun,beam,diffuse,rh,wind,cloud", *rows]).encode()


TARGETS = b"""change = ["ducts.length = 10 ft..60 ft", "fan.flow = 200 cfm, 300 cfm"]
set = ["ducts.count = 6"]
smallest = "pipe"
spread = true
[want]
"lowest floor" = "at least 42 degF"
uptake = "at least 55 %"
[limit]
"hottest duct" = "at most 60 degC"
"hours room under 40 degF" = "at most 3 h"
[price]
pipe = "4.20/ft"
trench = "$9/m"
"""

TYPED = (
    "c:supply above floor by 5 K or room below 8 degC and tank top above 40 degC",
    "c:hood is below the coldest floor",
    "v:ducts.length = 10 ft..60 ft in 6 steps", "v:ducts.count = 2..8",
    "v:ground.layers[1].thickness = 4 in, 6 in",
    "v:ground.depth = 8..16 ft in steps of 2 ft", "v:floor.width, floor.length = 20 ft, 30 ft",
    "v:weather.kind = \"daily wave\", 'constant'", "v:site.duration = 1..3 days in steps of 12 h",
    "s:ducts.length = 20 ft", "s:ducts.count = 8", "s:room.temperature = 50 degF", "s:numerics.step = 5 min",
    "o:hours room under 40 degF", "o:uptake over 6 h", "o:lowest floor", "o:heat into the floor over 2 h",
    "m:2024-01-16 06:00", "m:06:00", "m:+6 h", "p:2", "p:3 m",
    "w:lowest floor at least 42 degF", "w:trench at most 60 m", "w:dangers at most 0",
    "w:uptake at least 0.5",
    "e:0.18 USD", "e:0.3/kWh", "e:.2 \u20ac",
    "h:15000 BTU/h", "h:3 kWh", "h:12 gpm", "h:5 gal", "h:2 lb/h",
)  # fmt: skip
