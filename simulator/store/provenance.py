"""Which case made a results file: its text, its name and a fingerprint of everything it reads."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from simulator.errors import StoreError
from simulator.version import VERSION

if TYPE_CHECKING:
    from simulator.case.schema import Case

__all__ = ["describe", "identity", "input_hash", "program_fingerprint"]

NUMBERS_COME_FROM: Final = ("physics", "case", "climate", "section", "air", "plant", "house", "run", "store")


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
    for part in [_text(case).encode("utf-8"), *map(_content, case.referenced_files)]:
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.hexdigest()


def identity(case: Case) -> dict[str, Any]:
    """Tell what has to be the same for a run to go on where another stopped.

    Returns
    -------
    dict
        Fingerprints (SHA-256) of the case text, of every file it names, of this program's own files, and its
        version.

    Raises
    ------
    StoreError
        When a file can no longer be read.
    """
    return {
        "case": _fingerprint(_text(case).encode("utf-8")),
        "files": {path.name: _fingerprint(_content(path)) for path in case.referenced_files},
        "version": VERSION,
        "program": program_fingerprint(),
    }


@cache
def program_fingerprint() -> str:
    """Fingerprint of the sources that results depend on; changes where the version was not raised."""
    digest = hashlib.sha256()
    package = Path(__file__).parent.parent
    for folder in NUMBERS_COME_FROM:
        for source in sorted((package / folder).glob("*.py")):
            digest.update(f"{folder}/{source.name}\n".encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()


def describe(case: Case) -> dict[str, str]:
    """Attributes of a results file that say where it comes from."""
    name = Path(case.source_path).stem if case.source_path else case.title
    return {
        "title": case.title or name,
        "case_name": name,
        "case_folder": "" if case.source_path is None else str(Path(case.source_path).resolve().parent),
        "case_text": _text(case),
        "program_version": VERSION,
        "input_hash": input_hash(case),
        "start": case.site.start.isoformat(),
        "shown_in": str(case.output.units),
    }


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        problem = f"cannot be read any more: {error.strerror or error}"
        raise StoreError(problem, path=str(path), fix="put the file back and run again") from error


def _fingerprint(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _text(case: Case) -> str:
    return str(case.source_text or case.model_dump_json())
