"""Manners of every command: examples, completion, JSON, exit codes, quiet pipes."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import typer.main

from simulator.cli import guard
from simulator.cli.app import app
from simulator.cli.examples import EXAMPLES

ROOT = Path(__file__).parents[2]


def commands(group=None, words: tuple[str, ...] = ()) -> dict[str, object]:
    """Every command by the words that call it."""
    group = typer.main.get_command(app) if group is None else group
    found: dict[str, object] = {}
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            found |= commands(command, (*words, name))
        else:
            found[" ".join((*words, name))] = command
    return found


def complete(typed: str, *, shell: str = "bash") -> list[str]:
    words = typed.split(" ")
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "_DUCTFLOOR_COMPLETE": f"complete_{shell}",
        "COMP_WORDS": typed, "_TYPER_COMPLETE_FISH_ACTION": "get-args",
        "COMP_CWORD": str(len(words) - 1), "_TYPER_COMPLETE_ARGS": typed,
    }  # fmt: skip
    code = "from simulator.cli.app import main; main()"
    outcome = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    return outcome.stdout.split()


@pytest.mark.parametrize("name", sorted(commands()))
def test_help_fits_and_ends_with_examples_that_can_be_parsed(ductfloor, name) -> None:
    outcome = ductfloor(*name.split(), "--help")
    assert outcome.code == 0
    assert max(map(len, outcome.out.splitlines())) <= 80
    assert "Examples:" in outcome.out
    assert f"ductfloor {name} " in outcome.out.split("Examples:")[1]
    for example in EXAMPLES.get(name, ()):
        assert f"ductfloor {example}".split(" --")[0] in outcome.out
        words = shlex.split(example.split(" > ")[0])
        assert " ".join(words).startswith(name)
        commands()[name].make_context(name, words[len(name.split()) :], resilient_parsing=False)


@pytest.mark.parametrize("name", sorted(commands()))
def test_every_command_prints_json_on_request(name) -> None:
    assert any("--json" in parameter.opts for parameter in commands()[name].params)


def test_json_of_the_commands_that_write_a_file(ductfloor, barn) -> None:
    assert json.loads(ductfloor("new", "--json").out) == {"files": ["case.toml"]}
    assert json.loads(ductfloor("map", barn, "--json", "--out", "m.png").out) == {"files": ["m.png"]}
    assert json.loads(ductfloor("show", barn, "--json", "--flows", "f.png").out)["files"] == ["f.png"]


def test_every_exit_code_is_told_by_the_help(ductfloor) -> None:
    told = ductfloor("--help").out.split("Exit codes:")[1].splitlines()
    codes = {int(line.split()[0]) for line in told if line.strip()}
    named = {value for name, value in vars(guard).items() if name.isupper() and type(value) is int}
    assert codes == named | {0}
    # They never change: other programs count on them.
    assert (guard.FAILED, guard.BAD_INPUT, guard.STOPPED) == (1, 2, 130)


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("ductfloor sh", ["show"]),
        ("ductfloor sum f", ["fuel"]),
        ("ductfloor show --fl", ["--flows"]),
        ("ductfloor show --units ", ["SI", "US"]),
    ],
)
def test_completion_in_bash(typed, offered) -> None:
    # The lowest libraries offer small letters, which are taken too.
    assert complete(typed) in (offered, [word.lower() for word in offered])


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_completion_in_other_shells(shell) -> None:
    assert any("show" in word for word in complete("ductfloor sh", shell=shell))


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
def test_the_script_that_bash_is_given_can_be_read_by_bash() -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "_DUCTFLOOR_COMPLETE": "source_bash"}
    code = "from simulator.cli.app import main; main()"
    script = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    ).stdout
    assert "ductfloor" in script
    read = subprocess.run(
        ["bash", "-c", f"{script}\ncomplete -p ductfloor"], capture_output=True, text=True, check=True
    )
    assert "ductfloor" in read.stdout


@pytest.mark.parametrize("variable", ["NO_COLOR", "FORCE_COLOR"])
def test_pipes_get_plain_text_only(barn, variable) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), variable: "1"}
    command = [sys.executable, "-m", "simulator", "show", str(barn)]
    outcome = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert "\x1b" not in outcome.stdout
    assert outcome.stderr == ""
