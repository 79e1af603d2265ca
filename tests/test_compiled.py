"""The folder of compiled loops changes with the sources and falls back where it cannot be written."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from simulator import compiled


@pytest.fixture
def package(tmp_path):
    folder = tmp_path / "package"
    (folder / "run").mkdir(parents=True)
    (folder / "run" / "a_kernels.py").write_text("x = 1\n")
    (folder / "run" / "other.py").write_text("y = 1\n")
    return folder


def test_an_edit_of_any_kernel_changes_the_fingerprint_and_no_other_edit_does(package):
    before = compiled.fingerprint(package)
    (package / "run" / "other.py").write_text("y = 2\n")
    assert compiled.fingerprint(package) == before
    (package / "run" / "a_kernels.py").write_text("x = 2\n")
    changed = compiled.fingerprint(package)
    assert changed != before
    (package / "run" / "b_kernels.py").write_text("")
    assert compiled.fingerprint(package) not in (before, changed)


def _chosen(environment: dict[str, str]) -> str:
    code = "import os, simulator; print(os.environ.get('NUMBA_CACHE_DIR'))"
    clean = {key: value for key, value in os.environ.items() if key != compiled.VARIABLE}
    root = Path(__file__).parent.parent
    run = subprocess.run(
        [sys.executable, "-c", code],
        env={**clean, **environment},
        cwd=root,
        capture_output=True,
        text=True,
        check=True,
    )
    return run.stdout.strip()


def test_the_users_cache_folder_is_used(tmp_path):
    chosen = Path(_chosen({"XDG_CACHE_HOME": str(tmp_path)}))
    assert chosen.parent == tmp_path / "ductfloor"
    assert chosen.is_dir()


def test_a_folder_that_cannot_be_made_is_passed_over(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    chosen = Path(_chosen({"XDG_CACHE_HOME": str(blocked), "TMPDIR": str(tmp_path)}))
    assert chosen.is_relative_to(tmp_path)
    assert chosen.is_dir()


def test_the_users_own_choice_stands(tmp_path):
    assert _chosen({compiled.VARIABLE: str(tmp_path / "mine")}) == str(tmp_path / "mine")
