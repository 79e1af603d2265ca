"""Plant small errors in the numerics and see whether the tests notice.

    NUMBA_DISABLE_JIT=1 python -m tests.mutation.run map FILE --tests tests/air
    NUMBA_DISABLE_JIT=1 python -m tests.mutation.run try FILE --only simulator/air --sample 200 --seed 1

Both need `coverage` and `pytest-timeout`. The first notes which tests reach which lines; a test that takes
more than `SLOWEST_TEST` seconds uncompiled is left out. For a mutant those that reach its line run, quickest
first, until one fails, in a process of its own. Kernels run uncompiled: a mutant costs no compilation. A
mutant that makes a test run on for ever counts as noticed. One that nobody noticed gets a second look, from
a fresh start and by whole test files. `mutants.py` says what is planted and what is not.
"""

from __future__ import annotations

import argparse
import contextlib
import copy
import importlib
import json
import math
import os
import random
import resource
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.planting import Planted, changed_functions, module_name, plant

if TYPE_CHECKING:
    import ast
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]
SOURCES = ("simulator/physics", "simulator/section", "simulator/air")
TESTS = ("tests/physics", "tests/section", "tests/air")
OPTIONS = ["-q", "-p", "no:cacheprovider", "-m", "not slow", "--no-header", "--tb=no", "-W", "ignore"]
LIBRARIES = (
    "numpy", "scipy.sparse.linalg", "scipy.special", "scipy.integrate", "scipy.optimize", "scipy.spatial",
    "scipy.interpolate", "numba", "hypothesis", "pytest", "CoolProp.CoolProp", "ht", "fluids", "pydantic",
    "threadpoolctl",
)  # fmt: skip
SLOWEST_TEST = 12.0
"""Seconds of processor time, watched by coverage; slower tests are left out."""
SECONDS_OF_TESTS = 20.0
"""Of the tests that are tried on one mutant, together."""
MUCH_LONGER = 2.0
"""A mutant runs on for ever when a test takes so many times the slowest of its file, and four seconds."""

OUTCOMES = ("survived", "failed", "unknown")
"""What a process says by its exit code."""

Planned = tuple[Mutant, "ast.Module", list[str]]


def _settle() -> None:
    """The same examples for every mutant; the first failing one is enough, however large."""
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutation", derandomize=True, database=None, deadline=None, phases=[Phase.explicit, Phase.generate],
        report_multiple_bugs=False,
    )  # fmt: skip
    settings.load_profile("mutation")


class _Settled:
    """Keeps the examples the same in folders that choose their own."""

    def pytest_pycollect_makemodule(self) -> None:
        _settle()


class _Mapper(_Settled):
    """Tells coverage which test runs, and notes how long it took and whether it passed."""

    def __init__(self, coverage: Any) -> None:
        self.coverage, self.seconds, self.failed = coverage, {}, set()
        self.begin = 0.0

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.coverage.switch_context(nodeid)
        self.begin = time.process_time()

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.seconds[report.nodeid] = time.process_time() - self.begin
        if report.failed:
            self.failed.add(report.nodeid)


def make_map(out: Path, tests: list[str], choose: str) -> None:
    """Write which tests reach which lines of the numerics."""
    import coverage
    import pytest

    watched = coverage.Coverage(data_file=f"{out}.coverage", source=[str(ROOT / "simulator")])
    watched.erase()
    watched.start()
    mapper = _Mapper(watched)
    _settle()
    pytest.main([*OPTIONS, "--timeout=90", "-k", choose, *tests], plugins=[mapper])
    watched.stop()
    watched.save()
    data = watched.get_data()
    left_out = mapper.failed | {name for name, took in mapper.seconds.items() if took > SLOWEST_TEST}
    lines: dict[str, dict[int, list[str]]] = {}
    for source in SOURCES:
        for path in sorted((ROOT / source).glob("*.py")):
            found = data.contexts_by_lineno(str(path))
            lines[str(path.relative_to(ROOT))] = {
                line: sorted({one for one in contexts if one and one not in left_out})
                for line, contexts in found.items()
            }
    out.write_text(json.dumps({"seconds": mapper.seconds, "lines": lines, "left_out": sorted(left_out)}))
    print(f"{len(mapper.seconds)} tests, {len(mapper.failed)} of them fail uncompiled, "
          f"{len(left_out)} failing or slow ones left out: {sorted(left_out)}")  # fmt: skip


def chosen_tests(mutant: Mutant, known: dict[str, Any], *, whole_files: bool = False) -> list[str]:
    """Tests that reach a mutant's line, quickest first.

    With `whole_files` all tests of the files of those, and for lines run on import of those that reach the
    file: a test may use what was computed on import, or by another one's fixture, without running the line.
    """
    lines = known["lines"].get(str(mutant.path.relative_to(ROOT)), {})
    seconds = known["seconds"]
    names = set(lines.get(str(mutant.line), []))
    if whole_files or not names:
        reaching = names or {name for found in lines.values() for name in found}
        files = {name.split("::")[0] for name in reaching}
        names = {name for name in seconds if name.split("::")[0] in files} - set(known["left_out"])
    kept: list[str] = []
    total = 0.0
    for name in sorted(names, key=lambda name: seconds[name]):
        total += seconds[name]
        if kept and total > SECONDS_OF_TESTS:
            break
        kept.append(name)
    return kept


def in_child(work: Callable[[], str], limit: float) -> str:
    """Do work in a process of its own, and return what it says; 'hung' where it runs past the limit."""
    child = os.fork()
    if child == 0:
        status = OUTCOMES.index("failed")
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(limit), math.ceil(limit) + 1))
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            status = OUTCOMES.index(work())
        finally:
            os._exit(status)
    end = time.monotonic() + 10.0 * limit
    pause = 0.002
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            if os.WIFSIGNALED(status):
                return "hung"
            return OUTCOMES[os.WEXITSTATUS(status)]
        time.sleep(pause)
        pause = min(1.5 * pause, 0.05)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return "hung"


def _told(mutant: Mutant) -> str:
    return f"{mutant.path.relative_to(ROOT)}:{mutant.line}: {mutant.was}  ->  {mutant.now}"


def _limit(tests: list[str], known: dict[str, Any]) -> float:
    return 30.0 + MUCH_LONGER * sum(known["seconds"][name] for name in tests)


class _Impatient(_Settled):
    """Ends the process, as one that runs on for ever, when a test takes much longer than it should."""

    def __init__(self, known: dict[str, Any]) -> None:
        # Any test of a file may be the one that pays for what they share.
        self.slowest: dict[str, float] = {}
        for name, took in known["seconds"].items():
            file = name.split("::")[0]
            self.slowest[file] = max(took, self.slowest.get(file, 0.0))

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        # The clock of processor time; its signal ends a process that does not handle it.
        took = self.slowest.get(nodeid.partition("::")[0], 10.0)
        signal.setitimer(signal.ITIMER_PROF, 4.0 + MUCH_LONGER * took)


def slow_look(planned: Planned, known: dict[str, Any]) -> str:
    """Run a mutant's tests in a process that reads everything anew."""
    mutant, tree, _ = planned
    tests = chosen_tests(mutant, known, whole_files=True)
    if not tests:
        return "not reached"

    def work() -> str:
        sys.meta_path.insert(0, Planted(mutant.path, tree, ROOT))
        import pytest

        passed = int(pytest.main([*OPTIONS, "-x", *tests], plugins=[_Impatient(known)])) == 0
        return "survived" if passed else "failed"

    return in_child(work, _limit(tests, known) + 10.0)


class _Session(_Impatient):
    """In a pytest session that has collected the tests: try mutant after mutant instead of running them."""

    def __init__(self, planned: list[Planned], known: dict[str, Any], out: Path) -> None:
        super().__init__(known)
        self.planned, self.known, self.out = planned, known, out

    def pytest_runtestloop(self, session: Any) -> bool:
        items = {item.nodeid: item for item in session.items}
        outcomes = []
        for mutant, tree, tests in self.planned:
            was = compile(mutant.path.read_text(encoding="utf-8"), str(mutant.path), "exec")
            changes = changed_functions(was, compile(tree, str(mutant.path), "exec"))
            chosen = [items[name] for name in tests if name in items]
            outcome = "unknown"
            if changes is not None and chosen:

                def work(changes: Any = changes, chosen: Any = chosen, path: Path = mutant.path) -> str:
                    if not plant(module_name(path, ROOT), changes):
                        return "unknown"
                    return "survived" if _all_pass(session, chosen) else "failed"

                outcome = in_child(work, _limit(tests, self.known))
            outcomes.append(outcome)
            if outcome == "survived":
                print(f"unnoticed at first: {_told(mutant)}", file=sys.stderr, flush=True)
        self.out.write_text(json.dumps(outcomes))
        return True


def _all_pass(session: Any, chosen: list[Any]) -> bool:
    for place, item in enumerate(chosen):
        following = chosen[place + 1] if place + 1 < len(chosen) else None
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return False
    return True


def quick_looks(planned: list[Planned], known: dict[str, Any], out: Path) -> list[str]:
    """Try mutants inside functions, all from one collected session; 'unknown' for those outside."""
    names = sorted({name for _, _, tests in planned for name in tests})
    plugin = _Session(planned, known, out)

    out.unlink(missing_ok=True)
    child = os.fork()
    if child == 0:
        try:
            import pytest

            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            pytest.main([*OPTIONS, *sorted({name.split("::")[0] for name in names})], plugins=[plugin])
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    outcomes: list[str] = json.loads(out.read_text())
    return outcomes


def _load_libraries() -> None:
    """Import what the tests import, once, so that each mutant starts from there."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    # As tests/conftest.py does: this library cannot run uncompiled unless it believes there is no numba.
    numba, sys.modules["numba"] = sys.modules.get("numba"), None  # type: ignore[assignment]
    with contextlib.suppress(ImportError):
        importlib.import_module("psychrolib")
    del sys.modules["numba"]
    if numba is not None:
        sys.modules["numba"] = numba


def interval(share: float, count: int) -> tuple[float, float]:
    """95 % interval of a share seen in a sample (Wilson, J. Am. Stat. Assoc. 22 (1927) 209)."""
    z = 1.96
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return middle - half, middle + half


def try_mutants(file: Path, only: str, sample: int, seed: int) -> None:
    """Try a sample of mutants, print those that nobody noticed, and the share of the others."""
    known = json.loads(file.read_text())
    paths = [path for source in SOURCES for path in sorted((ROOT / source).glob("*.py")) if only in str(path)]
    everything = [(path, mutant.number) for path in paths for mutant, _ in mutants_of(path)]
    chosen = set(random.Random(seed).sample(everything, min(sample, len(everything))))
    _load_libraries()
    _settle()
    counts: dict[str, int] = {}
    planned = []
    # The trees of one file are one object that is changed and changed back, so each mutant takes a copy.
    for path in paths:
        for mutant, tree in mutants_of(path):
            if (path, mutant.number) in chosen:
                planned.append((mutant, copy.deepcopy(tree), chosen_tests(mutant, known)))
    begin = time.monotonic()
    outcomes = quick_looks(planned, known, Path(f"{file}.outcomes"))
    looked = [place for place, outcome in enumerate(outcomes) if outcome in {"survived", "unknown"}]
    print(f"quick looks took {time.monotonic() - begin:.0f} s; {len(looked)} slow looks follow", flush=True)
    for place in looked:
        outcomes[place] = slow_look(planned[place], known)
    for (mutant, _, _), outcome in zip(planned, outcomes, strict=True):
        counts[outcome] = counts.get(outcome, 0) + 1
        if outcome in {"survived", "not reached"}:
            print(f"{outcome}: {_told(mutant)}")
    tried = sum(counts.values())
    noticed = counts.get("failed", 0) + counts.get("hung", 0)
    low, high = interval(noticed / tried, tried)
    print(f"{tried} of {len(everything)} mutants: {counts}; {time.monotonic() - begin:.0f} s")
    print(f"noticed {100 * noticed / tried:.1f} % (95 % interval {100 * low:.1f} to {100 * high:.1f} %)")


def main() -> None:
    """Parse the words and go to work."""
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=["map", "try"])
    parser.add_argument("file", type=Path)
    parser.add_argument("--sample", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--tests", nargs="*", default=[])
    parser.add_argument("--choose", default="", help="as the -k of pytest, for a map")
    words = parser.parse_args()
    if os.environ.get("NUMBA_DISABLE_JIT", "0") == "0":
        raise SystemExit("set NUMBA_DISABLE_JIT=1")
    os.chdir(ROOT)
    if words.what == "map":
        make_map(words.file, words.tests or list(TESTS), words.choose)
    else:
        try_mutants(words.file, words.only, words.sample, words.seed)


if __name__ == "__main__":
    main()
