"""Which case made a results file: its text, its name and a fingerprint of everything it reads."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import StoreError
from simulator.version import VERSION

if TYPE_CHECKING:
    from simulator.case.schema import Case

__all__ = ["describe", "input_hash"]


def input_hash(case: Case) -> str:
    """Fingerprint of the case text and of every file it names.

    Returns
    -------
    str
        SHA-256 in hexadecimal. Lengths are hashed along, so that text cannot move from one file to the next
        unnoticed.

    Raises
    ------
    StoreError
        When a file can no longer be read.
    """
    digest = hashlib.sha256()
    parts = [_text(case).encode("utf-8")]
    for path in case.referenced_files:
        try:
            parts.append(path.read_bytes())
        except OSError as error:
            problem = f"cannot be read any more: {error.strerror or error}"
            raise StoreError(problem, path=str(path), fix="put the file back and run again") from error
    for part in parts:
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.hexdigest()


def describe(case: Case) -> dict[str, str]:
    """Attributes of a results file that say where it comes from."""
    name = Path(case.source_path).stem if case.source_path else case.title
    return {
        "title": case.title or name,
        "case_name": name,
        "case_text": _text(case),
        "program_version": VERSION,
        "input_hash": input_hash(case),
        "start": case.site.start.isoformat(),
        "shown_in": str(case.output.units),
    }


def _text(case: Case) -> str:
    return str(case.source_text or case.model_dump_json())
