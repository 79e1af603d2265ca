"""The command ends as the interpreter would end it, only sooner."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
END = """
import atexit, sys, threading
from simulator.cli.leaving import leave
atexit.register(print, "asked for")
class Held:
    def __del__(self): print("taken apart")
held = Held()
print("printed", end=" ")
{before}
leave(SystemExit({code}))
"""


def ended(code: str, before: str = "", **options) -> subprocess.CompletedProcess[str]:
    words = [sys.executable, "-c", END.format(code=code, before=before)]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    options = {"stdout": subprocess.PIPE, "env": environment, **options}
    return subprocess.run(words, cwd=ROOT, text=True, stderr=subprocess.PIPE, check=False, **options)


@pytest.mark.parametrize(("code", "expected"), [("", 0), ("None", 0), ("0", 0), ("2", 2), ("130", 130)])
def test_the_code_arrives_and_what_was_printed_and_asked_for(code, expected) -> None:
    end = ended(code)
    assert (end.returncode, end.stdout, end.stderr) == (expected, "printed asked for\n", "")


def test_a_message_is_told_as_ever() -> None:
    end = ended("'no'")
    assert (end.returncode, end.stderr) == (1, "no\n")
    assert end.stdout == "printed asked for\ntaken apart\n"


def test_what_still_runs_is_waited_for() -> None:
    slow = "import time; threading.Thread(target=lambda: (time.sleep(0.3), print('done'))).start()"
    end = ended("3", slow)
    assert (end.returncode, end.stdout) == (3, "printed done\nasked for\ntaken apart\n")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_output_that_nobody_takes_is_complained_of_by_the_interpreter() -> None:
    with Path("/dev/full").open("w") as full:
        end = ended("0", stdout=full)
    assert end.returncode == 120
    assert "No space left on device" in end.stderr


def test_an_exit_function_that_fails_changes_no_code() -> None:
    end = ended("2", "atexit.register(lambda: 1 / 0)")
    assert end.returncode == 2
    assert "ZeroDivisionError" in end.stderr
