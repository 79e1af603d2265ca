"""The version of the installed program."""

from __future__ import annotations

from importlib import metadata

__all__ = ["VERSION"]

try:
    VERSION = metadata.version("ductfloor")
except metadata.PackageNotFoundError:  # a source tree that was never installed
    VERSION = "0+unknown"
