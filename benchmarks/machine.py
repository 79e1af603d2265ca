"""On what the numbers were measured."""

from __future__ import annotations

import os
import platform
from importlib import metadata
from pathlib import Path


def describe() -> dict[str, str | int]:
    """Processor, cores, system and versions."""
    versions = {}
    for name in ("numpy", "scipy", "numba", "scikit-fem"):
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "none"
    return {
        "processor": _processor(),
        "cores": os.cpu_count() or 0,
        "threads_used": 1,
        "system": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        **versions,
    }


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor()
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor()
