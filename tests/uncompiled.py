"""What it takes to run the kernels as plain Python (NUMBA_DISABLE_JIT=1), so that every line is seen."""

from __future__ import annotations

import os
import sys
from typing import Any

UNCOMPILED = os.environ.get("NUMBA_DISABLE_JIT", "0") != "0"


class PlainHandle:
    """Stands in for a compiled handle: the fields a class names, as they were given."""

    def __init__(self, *fields: Any) -> None:
        for name, value in zip(type(self).__annotations__, fields, strict=True):
            setattr(self, name, value)


def prepare() -> None:
    """Call before the program is imported: two libraries cannot do without the compiler by themselves."""
    numba, sys.modules["numba"] = sys.modules.get("numba"), None  # type: ignore[assignment]
    import psychrolib  # noqa: F401  # runs uncompiled only if it believes there is no numba

    del sys.modules["numba"]
    if numba is not None:
        sys.modules["numba"] = numba
    from numba.experimental import structref

    structref.StructRefProxy = PlainHandle
    structref.define_proxy = lambda *_: None
