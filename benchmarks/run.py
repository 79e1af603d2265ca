"""Time this project against general solvers at equal error.

python benchmarks/run.py [--quick | --scaling | --start] [--json FILE]
"""

# ruff: noqa: E402
from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported: everything is timed on one thread

import argparse
import importlib.util
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks import machine, scaling, start, suite, tuning

if TYPE_CHECKING:
    from collections.abc import Iterator

HEADER = f"{'name':34} {'peer':56} {'days':>6} {'ratio':>7} {'ours':>9} {'peer':>9} {'error':>8} {'peer':>8}"
UNITS = f"{'':34} {'':56} {'':6} {'':7} {'s':>9} {'s':>9} {'K':>8} {'K':>8}"


def _raced(options: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """Print and give the entries against peers."""
    sizes = suite.SMOKE if options.smoke else suite.QUICK if options.quick else suite.FULL
    elements = importlib.util.find_spec("skfem") is not None
    if not elements:
        print('scikit-fem is left out: pip install -e ".[bench]"', file=sys.stderr)
    print("processor seconds, compilation left out")
    print(HEADER)
    print(UNITS)
    for entry in suite.measure(sizes, elements=elements):
        print(
            f"{entry['name']:34} {entry['peer']:56} {entry['days']:6g} {entry['ratio']:7.1f} "
            f"{entry['seconds']:9.3f} {entry['peer_seconds']:9.3f} {entry['error_K']:8.4f} "
            f"{entry['peer_error_K']:8.4f}",
            flush=True,
        )
        yield entry


def _grown(*, smoke: bool) -> Iterator[dict[str, Any]]:
    """Print and give the measurements of how cost grows."""
    yield from _listed(scaling.measure(scaling.SMOKE if smoke else scaling.FULL))


def _listed(entries: Iterator[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Print entries one value a line, and hand them on."""
    for entry in entries:
        print(entry["name"])
        for key, value in entry.items():
            if key != "name":
                shown = ", ".join(f"{number:.4g}" for number in value) if isinstance(value, list) else value
                print(f"    {key:28} {shown:.4g}" if isinstance(shown, float) else f"    {key:28} {shown}")
        yield entry


def main(arguments: list[str] | None = None) -> int:
    """Run the benchmarks; the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="shorter runs of the peers")
    parser.add_argument("--smoke", action="store_true", help="six hours and two stations: does it still run?")
    parser.add_argument("--tune", action="store_true", help="try settings of the peers over one day")
    parser.add_argument("--scaling", action="store_true", help="how cost grows, memory, file, bandwidth")
    parser.add_argument("--start", action="store_true", help="from the command to its pictures, by the wall")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the entries there")
    options = parser.parse_args(arguments)
    if options.tune:
        tuning.search()
        return 0
    here = machine.describe()
    print(", ".join(f"{key} {value}" for key, value in here.items()))
    if options.start:
        found = _listed(start.measure(smoke=options.smoke))
    else:
        found = _grown(smoke=options.smoke) if options.scaling else _raced(options)
    entries = [{**entry, "machine": here} for entry in found]
    if options.json is not None:
        options.json.write_text(json.dumps(entries, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
