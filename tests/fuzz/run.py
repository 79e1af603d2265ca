"""Feed a format with broken input for a long time.

    python -m tests.fuzz.run FORMAT --inputs 100000 [--seed 1]
    python -m tests.fuzz.run FORMAT --inputs 20000 --guided [--keep FOLDER]

The plain walk is guided by the places from which inputs are refused (see walk.py). With `--guided` the lines
of the program that are reached guide it; that takes up to three times as long and needs atheris (pip install
atheris). What reaches new lines is kept in the folder and broken further. Findings are told with their
traceback and left as `crash-...` in the current folder; an input that takes over twenty seconds, half a
gigabyte (guided: a process over two), or the interpreter down is a finding too. The process may write into
its own temporary folder only.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MPLBACKEND", "agg")


def main() -> None:
    """Parse the words and start."""
    parser = argparse.ArgumentParser()
    parser.add_argument("format")
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
    parser.add_argument("--keep", type=Path, default=None)
    words = parser.parse_args()
    if words.guided:
        guided(words.format, words.inputs, words.seed, words.keep)
    else:
        plain(words.format, words.inputs, words.seed)


def plain(name: str, inputs: int, seed: int) -> None:
    """Walk without instrumentation, and say what came of it."""
    from tests.fuzz import targets
    from tests.fuzz.walk import walk

    form = targets.formats()[name]
    _try_seeds(form)
    sys.addaudithook(guard_of((str(targets.place()),)))
    found = walk(form, inputs, seed, latest=targets.place() / "latest")
    for text, data in found.findings:
        path = Path(f"crash-{name}-{hashlib.sha256(data).hexdigest()[:12]}")
        path.write_bytes(data)
        print(f"{text}kept as {path}\n", file=sys.stderr)
    print(
        f"{name}: {found.inputs:,} inputs, {found.accepted:,} accepted, refused from {len(found.places)} "
        f"places, {len(found.findings)} findings, {len(found.slow)} over 2 s, slowest {found.slowest:.2f} s, "
        f"{1000.0 * found.seconds / max(found.inputs, 1):.2f} ms each"
    )
    sys.exit(1 if found.findings else 0)


def _try_seeds(form) -> None:
    """See that nothing is wrong with the inputs to begin with; imports what the target needs, too."""
    for seed in form.seeds:
        refused = form.target(seed)
        if refused is not None:
            raise AssertionError(f"a good input is refused: {refused}")


def guard_of(allowed: tuple[str, ...]):
    """Audit hook that refuses whatever an input must never bring about."""
    events = {"os.system", "subprocess.Popen", "os.exec", "os.posix_spawn", "socket.connect"}

    def guard(event: str, arguments: tuple) -> None:
        if event in events:
            raise AssertionError(f"{event} {arguments}")
        if event == "open" and isinstance(arguments[0], str) and isinstance(arguments[2], int):
            writes = arguments[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC)
            harmless = arguments[0].startswith((*allowed, "/dev/", "crash-"))
            if writes and not harmless and ".cache/" not in arguments[0]:
                raise AssertionError(f"a file outside was opened for writing: {arguments[0]}")

    return guard


def guided(name: str, inputs: int, seed: int, folder: Path | None) -> None:
    """Walk guided by the lines that are reached; the fuzzer ends the process itself."""
    import atheris

    with atheris.instrument_imports(
        include=[f"simulator.{part}" for part in ("case", "climate", "store", "answers", "cli")] + ["tomllib"]
    ):
        from tests.fuzz import targets

        form = targets.formats()[name]
        _try_seeds(form)

    keep = folder or Path(tempfile.mkdtemp(prefix="reached-"))
    keep.mkdir(parents=True, exist_ok=True)
    for number, one in enumerate(form.seeds):
        (keep / f"seed-{number}").write_bytes(one)
    sys.addaudithook(guard_of((str(targets.place()), str(keep.resolve()))))

    def change(data: bytes, longest: int, number: int) -> bytes:
        if number % 4 == 0:
            return atheris.Mutate(data, longest)
        return targets.broken(form, data, random.Random(number))[:longest]

    def feed(data: bytes) -> None:
        form.target(data)

    options = [
        sys.argv[0], f"-runs={inputs}", f"-seed={seed}", f"-max_len={form.longest}",
        "-timeout=20", "-rss_limit_mb=2048", "-print_final_stats=1", "-len_control=0", "-reduce_inputs=0",
        str(keep),
    ]  # fmt: skip
    atheris.Setup(options, feed, custom_mutator=change)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
