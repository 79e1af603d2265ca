"""Full disks, folders that may not be written, vanished inputs: one message, an exit code, nothing lost.

Each run is a process of its own, because limits, users and mounts belong to a process.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from simulator.case.loader import load
from simulator.cli.guard import BAD_INPUT, NO_ROOM
from simulator.store.record import record
from tests.store.shed import left, write_case

ROOT = Path(__file__).parents[2]
NOBODY = 65534
# Everything is imported and run once before the limit falls, so that it meets the results and nothing else.
PROGRAM = """
import os, sys, resource
from pathlib import Path
from simulator.cli.app import main
from simulator.case.loader import load
from simulator.store.record import record
from simulator.store import checkpoint
checkpoint.SHORTEST_WAIT = 0.0
checkpoint.LARGEST_SHARE = 1e9
case, out = Path(sys.argv[1]), sys.argv[2]
record(load(case)).close()
{limit}
sys.argv = ["ductfloor", "run", str(case), "--out", out, "--no-pictures", "--quiet"]
main()
"""


def run(case: Path, out: Path, limit: str, **options) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-c", PROGRAM.format(limit=limit), str(case), str(out)]
    return subprocess.run(
        command, env=environment, capture_output=True, text=True, timeout=300, check=False, **options
    )


def told(done: subprocess.CompletedProcess[str], code: int, *words: str) -> None:
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    complaint = done.stderr.strip().splitlines()
    assert complaint[-1].startswith("error: ")
    assert len([line for line in complaint if line.startswith("error: ")]) == 1
    for word in words:
        assert word in complaint[-1]


@pytest.fixture
def case(tmp_path) -> Path:
    return write_case(tmp_path, days=3)


@pytest.fixture
def out(tmp_path) -> Path:
    """Where earlier results lie."""
    folder = tmp_path / "results"
    folder.mkdir()
    return folder / "night.h5"


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> bytes:
    """Results of the case, made once."""
    folder = tmp_path_factory.mktemp("whole")
    record(load(write_case(folder, days=3)), folder / "night.h5").close()
    return (folder / "night.h5").read_bytes()


@pytest.fixture
def before(out, whole) -> bytes:
    """Earlier results, already in place."""
    out.write_bytes(whole)
    return whole


@pytest.mark.parametrize("room", [4_000, 150_000])
def test_a_file_that_may_not_grow(case, out, before, room):
    limit = f"resource.setrlimit(resource.RLIMIT_FSIZE, ({room}, {room}))"
    told(run(case, out, limit), NO_ROOM, f"{out}: cannot be written: File too large")
    assert out.read_bytes() == before
    record(load(case), out).close()
    assert left(out) == ["night.h5"]


@pytest.fixture
def small_disk(tmp_path):
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=17300k", "none", str(folder)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("this machine does not let a test mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_small_disk(case, whole, small_disk):
    out = small_disk / "night.h5"
    # 16 MB are kept free in any case: first too small from the start, then room for one file but not for two.
    (small_disk / "ballast").write_bytes(bytes(1_200_000))
    told(run(case, out, ""), NO_ROOM, f"{out}: needs about ", " are free; free some space")
    assert left(out) == []
    (small_disk / "ballast").unlink()
    out.write_bytes(whole)
    (small_disk / "ballast").write_bytes(bytes(300_000))
    fill = "(Path(out).parent / 'more').write_bytes(bytes(900_000))"
    told(run(case, out, fill), NO_ROOM, " are free")
    assert out.read_bytes() == whole


def as_nobody(tmp_path: Path) -> str:
    """Python text that gives up the rights of root, which no permission stops."""
    if os.getuid() != 0:
        return ""
    # The interpreter itself may lie in a folder of root's alone.
    for path in (tmp_path, *tmp_path.parents, *Path(sys.prefix).parents):
        if path != Path("/") and path.owner() == "root" and not path.stat().st_mode & 1:
            path.chmod(path.stat().st_mode | 0o011)
    return f"os.setgid({NOBODY}); os.setuid({NOBODY}); "


def test_a_folder_that_may_not_be_written(case, out, before, tmp_path):
    out.parent.chmod(0o555)
    try:
        done = run(case, out, as_nobody(tmp_path))
        told(
            done, BAD_INPUT, f"{out}: the folder '{out.parent}' does not allow writing; choose another place"
        )
        assert out.read_bytes() == before
        assert left(out) == ["night.h5"]
    finally:
        out.parent.chmod(0o755)


def test_a_permission_lost_during_the_run(case, out, before):
    """The system refuses the last move: what was done stays beside the earlier results, and a run goes on."""
    take_away = (
        "from simulator.store.writer import ResultsWriter as W\n"
        "finish = W.finish\n"
        "def late(self, summary):\n"
        "    def refuse(self, target): raise PermissionError(13, 'Permission denied')\n"
        "    Path.replace = refuse\n"
        "    finish(self, summary)\n"
        "W.finish = late\n"
    )
    done = run(case, out, take_away)
    told(done, NO_ROOM, f"{out}: cannot be put there: Permission denied", "the same command then goes on")
    assert out.read_bytes() == before
    assert left(out) == ["night.h5", "night.h5.checkpoint", "night.h5.part"]
    record(load(case), out, resume=True).close()
    assert left(out) == ["night.h5"]


def test_an_input_that_vanishes_during_the_run(case, out, before):
    vanish = (
        "from simulator.store import writer\n"
        "first = writer.describe\n"
        "def late(case_):\n"
        "    Path(case).with_name('cold.csv').unlink()\n"
        "    return first(case_)\n"
        "writer.describe = late\n"
    )
    told(run(case, out, vanish), BAD_INPUT, "cold.csv: cannot be read any more: No such file")
    assert out.read_bytes() == before
    assert left(out) == ["night.h5"]


def test_a_screen_that_is_full(case, out):
    with Path("/dev/full").open("w") as full:
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-m", "simulator", "run", str(case), "--out", str(out), "--no-pictures"]
        done = subprocess.run(
            command, env=environment, stdout=full, stderr=subprocess.PIPE, text=True, timeout=300, check=False
        )
    told(done, NO_ROOM, "No space left on device")
    assert left(out) == ["night.h5"]
