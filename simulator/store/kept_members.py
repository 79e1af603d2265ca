"""A folder in which the outcomes of single runs are kept, so that a broken-off series of runs can go on.

One small file for each run, named by the fingerprint of all that it was made from. A file is moved into place
when it is whole; one that cannot be read is as if it were not there.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from simulator.case.schema import Case
from simulator.errors import StoreError
from simulator.store.provenance import input_hash
from simulator.version import VERSION

__all__ = ["KeptMembers", "member_fingerprint", "program_fingerprint"]

_LARGEST_FILE = 10_000_000
"""Bytes; an outcome takes a few thousand."""


@cache
def program_fingerprint() -> str:
    """Sixteen letters that change with the version and with every source of the program."""
    digest = hashlib.sha256(VERSION.encode())
    root = Path(__file__).parent.parent
    for source in sorted(root.rglob("*.py")):
        # Pictures and commands do not change what a run gives.
        if source.relative_to(root).parts[0] not in {"look", "cli"}:
            digest.update(source.relative_to(root).as_posix().encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def member_fingerprint(case: Case, *more: str) -> str:
    """Fingerprint of a case, the files it names, the program, and whatever else an outcome depends on.

    Raises
    ------
    StoreError
        When a file that the case names can no longer be read.
    """
    digest = hashlib.sha256()
    for part in (program_fingerprint(), input_hash(case), *more):
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part.encode())
    return digest.hexdigest()[:40]


class KeptMembers:
    """A folder of outcomes.

    Parameters
    ----------
    folder : Path
        Made when the first outcome is kept.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def get(self, fingerprint: str) -> dict[str, Any] | None:
        """Return the outcome kept under a fingerprint, or None."""
        path = self._path(fingerprint)
        with suppress(OSError, RecursionError, ValueError):
            if not path.is_file() or path.stat().st_size > _LARGEST_FILE:
                return None
            kept = json.loads(path.read_text(encoding="utf-8"))
            if isinstance(kept, dict) and kept.get("fingerprint") == fingerprint:
                return kept
        return None

    def put(self, fingerprint: str, outcome: dict[str, Any]) -> None:
        """Keep an outcome; a file appears only when it is whole.

        Raises
        ------
        StoreError
            When the folder cannot be written.
        """
        text = json.dumps({**outcome, "fingerprint": fingerprint}, allow_nan=True)
        path = self._path(fingerprint)
        part = path.with_name(f"{path.name}.{os.getpid()}.part")
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            part.write_text(text, encoding="utf-8")
            part.replace(path)
        except OSError as error:
            with suppress(OSError):
                part.unlink()
            problem = f"cannot be written: {error.strerror or error}"
            raise StoreError(problem, path=str(self.folder), fix="choose another place with --out") from None

    def _path(self, fingerprint: str) -> Path:
        return self.folder / f"{fingerprint}.json"
