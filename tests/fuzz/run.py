"""Feed a format with broken input for a long time, guided by which lines of the program are reached.

    python -m tests.fuzz.run FORMAT --inputs 100000 [--seed 1] [--keep FOLDER]

needs `atheris` (pip install atheris). What reaches new lines is kept in the folder and broken further. A
finding ends the program with its traceback and leaves the input as `crash-...` in the current folder; an
input that takes over twenty seconds, or a process over two gigabytes, is a finding too. The process may write
into its own temporary folder only.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def main() -> None:
    """Parse the words and start the fuzzer, which ends the process itself."""
    parser = argparse.ArgumentParser()
    parser.add_argument("format")
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=None)
    words = parser.parse_args()

    import atheris

    with atheris.instrument_imports(
        include=["simulator.case", "simulator.climate", "simulator.store", "tomllib"]
    ):
        from tests.fuzz import targets

        form = targets.formats()[words.format]
        for seed in form.seeds:
            form.target(seed)

    keep = words.keep or Path(tempfile.mkdtemp(prefix="reached-"))
    keep.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(form.seeds):
        (keep / f"seed-{number}").write_bytes(seed)
    allowed = (str(targets.place()), str(keep.resolve()))

    def guard(event: str, arguments: tuple) -> None:
        """Refuse whatever an input must never bring about."""
        if event in {"os.system", "subprocess.Popen", "os.exec", "os.posix_spawn", "socket.connect"}:
            raise AssertionError(f"{event} {arguments}")
        if event == "open" and isinstance(arguments[0], str) and isinstance(arguments[2], int):
            writes = arguments[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC)
            if writes and not arguments[0].startswith(allowed) and not arguments[0].startswith("/dev/"):
                raise AssertionError(f"a file outside was opened for writing: {arguments[0]}")

    sys.addaudithook(guard)

    def change(data: bytes, longest: int, seed: int) -> bytes:
        if seed % 4 == 0:
            return atheris.Mutate(data, longest)
        return targets.broken(form, data, random.Random(seed))[:longest]

    options = [
        sys.argv[0], f"-runs={words.inputs}", f"-seed={words.seed}", f"-max_len={form.longest}",
        "-timeout=20", "-rss_limit_mb=2048", "-print_final_stats=1", "-len_control=0", "-reduce_inputs=0",
        str(keep),
    ]  # fmt: skip
    atheris.Setup(options, form.target, custom_mutator=change)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
