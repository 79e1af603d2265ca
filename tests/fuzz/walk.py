"""A long walk without instrumentation: fast, and guided only by the places from which inputs are refused.

An input that is refused from a new line of the program, or accepted in spite of its damage, is kept and
broken further; so the walk gets behind the first checks as the guided one does, in much less time per input.
"""

from __future__ import annotations

import faulthandler
import random
import resource
import time
import traceback
import warnings
import zlib
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from tests.fuzz.targets import broken

if TYPE_CHECKING:
    from simulator.errors import DuctfloorError
    from tests.fuzz.targets import Format

SLOW = 2.0
"""Seconds of processor time from which an input is told of."""
HANGS = 20.0
MOST_KEPT = 400
MORE_MEMORY = 500_000
"""Growth of the process by one input that is a finding [kB]."""


@dataclass
class Walked:
    """What came of a walk.

    Attributes
    ----------
    inputs, accepted : int
    places : Counter
        Lines of the program from which inputs were refused.
    findings : list of (str, bytes)
        Traceback and input, one for each place.
    slowest : float [s]
        Processor time of the slowest input.
    seconds : float [s]
    """

    inputs: int = 0
    accepted: int = 0
    places: Counter[str] = field(default_factory=Counter)
    findings: list[tuple[str, bytes]] = field(default_factory=list)
    slowest: float = 0.0
    slow: list[tuple[float, bytes]] = field(default_factory=list)
    seconds: float = 0.0


def walk(form: Format, inputs: int, seed: int, *, latest: Path | None = None) -> Walked:
    """Feed a format with broken input.

    Parameters
    ----------
    form : Format
    inputs : int
    seed : int
    latest : Path, optional
        Holds the input being read, for the case that it brings the interpreter down.
    """
    chance = random.Random(seed)
    found = Walked()
    kept = list(form.seeds)
    seen: set[str] = set()
    accepted: set[int] = set()
    warnings.simplefilter("ignore")
    faulthandler.enable()
    began = time.process_time()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for number in range(inputs):
        base = chance.choice(form.seeds) if chance.random() < 0.4 else chance.choice(kept)
        data = broken(form, base, chance)
        if latest is not None:
            latest.write_bytes(data)
        faulthandler.dump_traceback_later(HANGS, exit=True)
        start = time.process_time()
        key = None
        try:
            refused = form.target(data)
            if refused is None:
                found.accepted += 1
            else:
                key = _place(refused)
                found.places[key] += 1
        except Exception as error:  # noqa: BLE001
            key = "finding " + _place(error)
            if key not in seen:
                found.findings.append((traceback.format_exc(), data))
        faulthandler.cancel_dump_traceback_later()
        spent = time.process_time() - start
        now = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        if now - memory > MORE_MEMORY and number:
            found.findings.append((f"memory grew by {now - memory} kB", data))
        memory = now
        if spent > SLOW:
            found.slow.append((spent, data))
        found.slowest = max(found.slowest, spent)
        fresh = key is not None and key not in seen
        if key is None and len(accepted) < MOST_KEPT // 2:
            digest = zlib.crc32(data)
            fresh = digest not in accepted and chance.random() < 0.1
            accepted.add(digest) if fresh else None
        if fresh and len(kept) < MOST_KEPT:
            kept.append(data)
        if key is not None:
            seen.add(key)
        found.inputs += 1
    found.seconds = time.process_time() - began
    return found


def _place(error: DuctfloorError | BaseException) -> str:
    """Line that raised an error, with the line that raised what it came from."""
    parts = []
    one: BaseException | None = error
    while one is not None and len(parts) < 3:
        last = next(reversed(traceback.extract_tb(one.__traceback__)), None)
        parts.append(type(one).__name__ if last is None else f"{Path(last.filename).name}:{last.lineno}")
        one = one.__context__
    return " < ".join(parts)
