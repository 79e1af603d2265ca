"""Plant small errors in the numerics and see whether the tests notice.

    NUMBA_DISABLE_JIT=1 python -m tests.mutation.run map FILE [--tests ...]
    NUMBA_DISABLE_JIT=1 python -m tests.mutation.run try FILE --sample 300 --seed 1 [--only simulator/air]

The first needs `coverage`. Each mutant gets a process of its own, in which the tests that reach its line run,
fastest first, until one fails. Kernels run uncompiled, so that a mutant costs no compilation. A mutant that
makes a test hang counts as noticed.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib.abc
import importlib.util
import json
import math
import os
import random
import signal
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
SOURCES = ("simulator/physics", "simulator/section", "simulator/air")
TESTS = ("tests/physics", "tests/section", "tests/air")
OPTIONS = ["-q", "-x", "-p", "no:cacheprovider", "-m", "not slow", "--no-header", "--tb=no", "-W", "ignore"]
LIBRARIES = (
    "numpy", "scipy.sparse.linalg", "scipy.special", "scipy.integrate", "scipy.optimize", "numba",
    "hypothesis", "pytest", "CoolProp.CoolProp", "ht", "fluids", "pydantic", "threadpoolctl",
)  # fmt: skip
SLOWEST_TEST = 25.0
"""Seconds; slower tests are left out."""
SECONDS_FOR_A_MUTANT = 90.0


def _settle() -> None:
    from hypothesis import settings

    settings.register_profile("mutation", derandomize=True, database=None, deadline=None)
    settings.load_profile("mutation")


class _Mapper:
    """Tells coverage which test runs, and notes how long it took and whether it passed."""

    def __init__(self, coverage: Any) -> None:
        self.coverage, self.seconds, self.failed = coverage, {}, set()

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.coverage.switch_context(nodeid)

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed.add(report.nodeid)


def make_map(out: Path, tests: list[str]) -> None:
    """Write which tests reach which lines of the numerics."""
    import coverage
    import pytest

    watched = coverage.Coverage(data_file=f"{out}.coverage", source=[str(ROOT / "simulator")])
    watched.start()
    mapper = _Mapper(watched)
    _settle()
    options = [option for option in OPTIONS if option != "-x"] + ["--timeout=40"]
    pytest.main([*options, *tests], plugins=[mapper])
    watched.stop()
    watched.save()
    data = watched.get_data()
    lines: dict[str, dict[int, list[str]]] = {}
    for source in SOURCES:
        for path in sorted((ROOT / source).glob("*.py")):
            found = data.contexts_by_lineno(str(path))
            lines[str(path.relative_to(ROOT))] = {
                line: sorted({one for one in contexts if one and one not in mapper.failed})
                for line, contexts in found.items()
            }
    out.write_text(json.dumps({"seconds": mapper.seconds, "lines": lines, "failed": sorted(mapper.failed)}))
    print(f"{len(mapper.seconds)} tests, {len(mapper.failed)} of them fail uncompiled")


class _Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module from a changed syntax tree."""

    def __init__(self, path: Path, tree: ast.Module) -> None:
        self.path, self.code = path, compile(tree, str(path), "exec")
        self.name = ".".join(path.relative_to(ROOT).with_suffix("").parts)

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: Any) -> None:
        exec(self.code, module.__dict__)


def tests_for(mutant: Any, known: dict[str, Any]) -> list[str]:
    """Tests that reach a mutant's line, fastest first; for lines run on import, tests that reach the file."""
    lines = known["lines"].get(str(mutant.path.relative_to(ROOT)), {})
    names = lines.get(str(mutant.line)) or sorted({name for found in lines.values() for name in found})
    seconds = known["seconds"]
    chosen = sorted(
        (name for name in names if seconds.get(name, 0.0) < SLOWEST_TEST),
        key=lambda name: seconds.get(name, 0.0),
    )
    total, kept = 0.0, []
    for name in chosen:
        total += seconds.get(name, 0.0)
        if kept and (total > SECONDS_FOR_A_MUTANT / 2 or len(kept) >= 150):
            break
        kept.append(name)
    return kept


def is_noticed(mutant: Any, tree: ast.Module, tests: list[str]) -> str:
    """Run the tests against a mutant: 'failed', 'hung' or 'survived'."""
    if not tests:
        return "not reached"
    code = ast.fix_missing_locations(tree)
    child = os.fork()
    if child == 0:
        status = 3
        try:
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            sys.meta_path.insert(0, _Planted(mutant.path, code))
            import pytest

            status = int(pytest.main([*OPTIONS, *tests]))
        finally:
            os._exit(min(status, 100))
    end = time.monotonic() + SECONDS_FOR_A_MUTANT
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return "survived" if status == 0 else "failed"
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "hung"


def _load_libraries() -> None:
    """Import what the tests import, once, so that each mutant starts from there."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def interval(share: float, count: int) -> tuple[float, float]:
    """95 % interval of a share seen in a sample (Wilson, J. Am. Stat. Assoc. 22 (1927) 209)."""
    z = 1.96
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return middle - half, middle + half


def main() -> None:
    """Parse the words and go to work."""
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=["map", "try"])
    parser.add_argument("file", type=Path)
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--tests", nargs="*", default=[])
    words = parser.parse_args()
    if os.environ.get("NUMBA_DISABLE_JIT", "0") == "0":
        raise SystemExit("set NUMBA_DISABLE_JIT=1")
    os.chdir(ROOT)
    if words.what == "map":
        make_map(words.file, words.tests or list(TESTS))
        return
    from tests.mutation.mutants import mutants_of

    known = json.loads(words.file.read_text())
    paths = [
        path for source in SOURCES for path in sorted((ROOT / source).glob("*.py")) if words.only in str(path)
    ]
    everything = [(path, mutant.number) for path in paths for mutant, _ in mutants_of(path)]
    chosen = set(random.Random(words.seed).sample(everything, min(words.sample, len(everything))))
    _load_libraries()
    _settle()
    counts: dict[str, int] = {}
    for path in paths:
        for mutant, tree in mutants_of(path):
            if (path, mutant.number) not in chosen:
                continue
            outcome = is_noticed(mutant, tree, tests_for(mutant, known))
            counts[outcome] = counts.get(outcome, 0) + 1
            if outcome in {"survived", "not reached"}:
                print(
                    f"{outcome}: {path.relative_to(ROOT)}:{mutant.line}: {mutant.was}  ->  {mutant.now}",
                    flush=True,
                )
    tried = sum(counts.values())
    noticed = counts.get("failed", 0) + counts.get("hung", 0)
    low, high = interval(noticed / tried, tried)
    print(f"{tried} of {len(everything)} mutants: {counts}; noticed {100 * noticed / tried:.1f} % "
          f"(95 % interval {100 * low:.1f} to {100 * high:.1f} %)")  # fmt: skip


if __name__ == "__main__":
    main()
