"""What libraries load and write for those who program with them, left out where only a command runs."""

from __future__ import annotations

import gc
import importlib.util
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

__all__ = ["loading", "spare_help_texts", "spare_tools"]

LATE = ("numpy.f2py", "numpy.testing", "scipy.linalg")


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
    """Load parts of the array libraries only if anyone asks for what is in them.

    Tools for compiling and testing are loaded because other libraries take over all names at once; dense
    algebra, because the compiled loops look up products of matrices in one small module of its folder. To be
    called before these.
    """
    for whole in LATE:
        outer, _, name = whole.rpartition(".")
        spec = None if whole in sys.modules else importlib.util.find_spec(whole)
        if spec is None or spec.loader is None:
            continue
        module = importlib.util.module_from_spec(spec)
        module.__class__ = Late
        sys.modules[whole] = module
        setattr(sys.modules[outer], name, module)


class Late(ModuleType):
    """A module whose code runs when a name is looked up that it does not have yet.

    Parts of its folder can be loaded without it.
    """

    def __getattr__(self, name: str) -> Any:
        with LOADING:
            if type(self) is Late:
                if self in _begun:
                    message = f"{self.__name__} has no {name} yet"
                    raise AttributeError(message, name=name, obj=self)
                _begun.append(self)
                try:
                    self.__spec__.loader.exec_module(self)  # type: ignore[union-attr]
                    self.__class__ = ModuleType  # type: ignore[assignment]
                finally:
                    _begun.remove(self)
            return getattr(self, name)


LOADING = threading.RLock()
_begun: list[ModuleType] = []


def spare_help_texts() -> None:
    """Write no help texts into the classes of the drawing library: a third of its loading, and never shown.

    To be called before anything else of it is loaded.
    """
    from matplotlib import artist

    artist.kwdoc = lambda _: ""  # type: ignore[assignment]
