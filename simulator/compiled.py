"""Where the compiled inner loops are kept between runs.

numba's cache beside each source file does not notice an edit in another module, and needs a writable
installation. So the cache goes into the user's cache folder, under a name made of the versions and of all
kernel sources: any change starts a fresh one. Must run before numba is first imported.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

VARIABLE = "NUMBA_CACHE_DIR"


def fingerprint(package: Path) -> str:
    """Sixteen letters that change with Python, numba, numpy and every kernel source below `package`."""
    digest = hashlib.sha256(sys.version.encode())
    for library in ("numba", "numpy"):
        try:
            digest.update(version(library).encode())
        except PackageNotFoundError:
            digest.update(b"none")
    for source in [*sorted(package.glob("*/*_kernels.py")), *package.glob("kernel.py")]:
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def cache_homes() -> list[Path]:
    """Folders to try in turn: the user's cache, then the machine's temporary folder."""
    homes = []
    if os.environ.get("XDG_CACHE_HOME"):
        homes.append(Path(os.environ["XDG_CACHE_HOME"]))
    elif os.name == "nt" and os.environ.get("LOCALAPPDATA"):
        homes.append(Path(os.environ["LOCALAPPDATA"]))
    else:
        with suppress(RuntimeError):
            homes.append(Path.home() / ".cache")
    user = getattr(os, "getuid", lambda: 0)()
    homes.append(Path(tempfile.gettempdir()) / f"ductfloor-{user}")
    return homes


def is_first_use(part: str, package: Path) -> bool:
    """Whether loops of this part have not yet been compiled into the cache, as far as can be told.

    Parameters
    ----------
    part : str
        A plain word.
    package : Path
        The folder of the program, which the cache tells apart.
    """
    mark = _mark(part, package)
    try:
        return mark is not None and not mark.exists()
    except OSError:  # the folder may not be looked into
        return False


def note_use(part: str, package: Path) -> None:
    """Note beside the cache that the loops of this part are in it."""
    mark = _mark(part, package)
    if mark is not None:
        with suppress(OSError):
            mark.touch()


def _mark(part: str, package: Path) -> Path | None:
    folder = os.environ.get(VARIABLE)
    if not folder:
        return None
    place = hashlib.sha256(str(package).encode()).hexdigest()[:8]
    return Path(folder) / f"{part.replace(' ', '-')}-{place}.used"


def keep_compiled_loops(package: Path) -> None:
    """Point numba's cache at the first folder that can be written, unless the user has chosen one."""
    if os.environ.get(VARIABLE) or "numba" in sys.modules:
        return
    name = fingerprint(package)
    for home in cache_homes():
        folder = home / "ductfloor" / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            continue
        os.environ[VARIABLE] = str(folder)
        return
