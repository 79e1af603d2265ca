"""What libraries load and write for those who program with them, left out where only a command runs."""

from __future__ import annotations

import gc
import importlib.util
import sys
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["loading", "spare_help_texts", "spare_tools"]

TOOLS = ("f2py", "testing")


@contextmanager
def loading() -> Iterator[None]:
    """Look for no rings to be freed among what is loaded, neither now nor later: it stays anyhow."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if was_on:
            gc.enable()


def spare_tools() -> None:
    """Load the array library's tools for compiling and testing only if anyone asks for them.

    Other libraries take over all of its names at once, which loads them otherwise. To be called before these.
    """
    import numpy as np

    for name in TOOLS:
        whole = f"numpy.{name}"
        spec = None if whole in sys.modules else importlib.util.find_spec(whole)
        if spec is None or spec.loader is None:
            continue
        spec.loader = importlib.util.LazyLoader(spec.loader)
        module = importlib.util.module_from_spec(spec)
        sys.modules[whole] = module
        spec.loader.exec_module(module)
        setattr(np, name, module)


def spare_help_texts() -> None:
    """Write no help texts into the classes of the drawing library: a third of its loading, and never shown.

    To be called before anything else of it is loaded.
    """
    from matplotlib import artist

    artist.kwdoc = lambda _: ""  # type: ignore[assignment]
