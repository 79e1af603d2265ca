"""A second process draws the same pictures as the first one would, and is missed by nobody when it fails."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from simulator.answers.overnight import overnight
from simulator.cli import drawing
from simulator.cli.drawing import Request, serve
from simulator.cli.drawn_beside import Drawer, drawer
from simulator.cli.pictures import kinds_of, write_pictures
from simulator.errors import DuctfloorError
from simulator.store.reader import Results

ROOT = Path(__file__).parents[2]
NAMES = {"barn-section.png", "barn-plan.png", "barn-night.png"}


def pictures() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in Path().glob("*.png")}


def request_for(barn: Path, stem: str) -> Request:
    with Results(barn) as results:
        window = overnight(results).window
        return Request(
            str(barn), stem, kinds_of(results), window.begin.isoformat(), window.end.isoformat(), "US"
        )


def drawn_here(barn: Path, stem: str) -> list[Path]:
    with Results(barn) as results:
        return write_pictures(results, overnight(results).window, Path(stem), "US")


@pytest.fixture
def here(barn: Path, monkeypatch) -> Path:
    monkeypatch.chdir(barn.parent)
    return barn


@pytest.mark.parametrize("platform", ["linux", "elsewhere"])
def test_what_is_asked_for_is_drawn_and_told(here, monkeypatch, platform) -> None:
    """By copies of the process and one by one: the same bytes."""
    monkeypatch.setattr(drawing.sys, "platform", platform)
    drawn_here(here, "barn")
    expected = pictures()
    assert set(expected) == NAMES
    told = io.StringIO()
    serve(io.StringIO(request_for(here, "other").line()), told)
    assert {Path(path).name for path in json.loads(told.getvalue())} == {
        name.replace("barn", "other") for name in NAMES
    }
    found = {name.replace("other", "barn"): body for name, body in pictures().items() if "other" in name}
    assert found == expected


def test_without_a_request_nothing_is_drawn_nor_told(here) -> None:
    told = io.StringIO()
    serve(io.StringIO(""), told)
    assert told.getvalue() == ""
    assert not pictures()


def test_pictures_that_cannot_be_written_are_told_by_no_answer(here) -> None:
    told = io.StringIO()
    with pytest.raises((RuntimeError, DuctfloorError)):
        serve(io.StringIO(request_for(here, "no-such-folder/barn").line()), told)
    assert told.getvalue() == ""


@pytest.mark.parametrize("cores", [1, 2, 3, 8])
@pytest.mark.parametrize("count", [1, 2, 5])
def test_every_job_is_done_once_by_no_more_processes_than_cores(
    tmp_path, monkeypatch, cores, count
) -> None:
    monkeypatch.setattr(drawing, "local_cores", lambda: cores)

    def job(number: int) -> None:
        with (tmp_path / str(number)).open("x") as file:
            file.write(str(os.getpid()))
        time.sleep(0.02)

    drawing._all_of([partial(job, number) for number in range(count)])
    assert {path.name for path in tmp_path.iterdir()} == {str(number) for number in range(count)}
    assert len({path.read_text() for path in tmp_path.iterdir()}) <= min(cores, count)


@pytest.mark.skipif(sys.platform != "linux", reason="copies are made on Linux alone")
def test_a_copy_that_fails_is_told_and_none_is_left(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(drawing, "local_cores", lambda: 2)
    first, copies = os.getpid(), []
    copy_for = drawing._copy_for
    monkeypatch.setattr(drawing, "_copy_for", lambda work: copies.append(copy_for(work)) or copies[-1])

    def job() -> None:
        if os.getpid() == first:
            # Leave the rest to the copy.
            time.sleep(0.5)
        else:
            os.kill(os.getpid(), signal.SIGKILL)

    with pytest.raises(RuntimeError, match="some failed"):
        drawing._all_of([job, job])
    (copy,) = copies
    with pytest.raises(ChildProcessError):
        os.waitpid(copy, os.WNOHANG)


@pytest.mark.parametrize(
    "code", ["", "import sys; sys.stdin.readline(); sys.exit(1)", "print('[\"barn', end='')"]
)
def test_pictures_that_did_not_come_are_drawn_here(here, code) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with Results(here) as results:
        drawn = Drawer(process)
        drawn.begin(results, overnight(results).window, Path("barn"), "US")
        written = drawn.finish()
    process.communicate()
    assert {path.name for path in written} == NAMES
    assert set(pictures()) == NAMES


def test_nobody_waits_for_ever(here, monkeypatch) -> None:
    monkeypatch.setattr("simulator.cli.drawn_beside.PATIENCE", 0.2)
    process = subprocess.Popen(
        [sys.executable, "-c", "import time; time.sleep(600)"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    with Results(here) as results:
        drawn = Drawer(process)
        drawn.begin(results, overnight(results).window, Path("barn"), "US")
        assert {path.name for path in drawn.finish()} == NAMES
    assert process.poll() is not None
    assert set(pictures()) == NAMES


def test_what_is_wrong_with_a_place_is_said_as_ever(here) -> None:
    with Results(here) as results:
        drawn = Drawer(None)
        drawn.begin(results, overnight(results).window, Path("no-such-folder/barn"), "US")
        with pytest.raises(DuctfloorError, match="the picture cannot be written"):
            drawn.finish()


def test_nobody_is_started_where_the_libraries_are_loaded_or_no_picture_is_wanted() -> None:
    assert "numpy" in sys.modules
    with drawer(wanted=True) as drawn:
        drawn.get_ready()
        assert drawn._process is None
    code = (
        "from simulator.cli.drawn_beside import drawer\n"
        "with drawer(wanted=False) as d: d.get_ready(); print(d._process)"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["None"]


STOPPED = """
import sys
from simulator.cli.drawn_beside import drawer
try:
    with drawer(wanted=True) as drawn:
        drawn.get_ready()
        print(drawn._process.pid, flush=True)
        {then}
except ValueError:
    pass
print(drawn._process.poll() is not None, flush=True)
"""


@pytest.mark.skipif(not hasattr(os, "sched_getaffinity"), reason="counts cores as Linux does")
@pytest.mark.skipif(len(getattr(os, "sched_getaffinity", lambda _: [0])(0)) < 2, reason="one core")
class TestRealProcess:
    """A first process that is new, as the command is."""

    @pytest.mark.parametrize("then", ["pass", "raise ValueError"])
    def test_it_ends_with_the_first(self, then) -> None:
        run = subprocess.run(
            [sys.executable, "-c", STOPPED.format(then=then)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        number, ended = run.stdout.split()
        assert ended == "True"
        assert not Path(f"/proc/{number}").exists()

    def test_it_ends_also_when_the_first_is_killed(self) -> None:
        first = subprocess.Popen(
            [sys.executable, "-c", STOPPED.format(then="sys.stdin.read()")],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        number = first.stdout.readline().strip()
        first.kill()
        first.communicate()
        until = time.monotonic() + 30.0
        while Path(f"/proc/{number}/cmdline").exists() and Path(f"/proc/{number}/cmdline").read_bytes():
            assert time.monotonic() < until, "the second process goes on alone"
            time.sleep(0.05)

    def test_a_run_leaves_the_same_pictures_either_way(self, case_file) -> None:
        code = "import sys; {first}sys.path.insert(0, {root!r}); from simulator.cli.app import main; main()"
        one_core = "import os; os.sched_setaffinity(0, [min(os.sched_getaffinity(0))]); "
        found = []
        for first, name in (("", "two.h5"), (one_core, "one.h5")):
            words = [code.format(first=first, root=str(ROOT)), "run", str(case_file), "--out", name]
            run = subprocess.run(
                [sys.executable, "-c", *words],
                cwd=case_file.parent, capture_output=True, text=True, check=True,
            )  # fmt: skip
            stem = name.removesuffix(".h5")
            wrote = [f"{stem}-{kind}.png" for kind in ("section", "plan", "night")]
            assert run.stdout.splitlines()[-1] == f"wrote {name}, " + ", ".join(wrote)
            found.append([(case_file.parent / one).read_bytes() for one in wrote])
        assert found[0] == found[1]
