"""Before numpy is loaded: one thread for linear algebra, so that last digits do not depend on luck."""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import sys  # noqa: E402
from collections.abc import Iterator  # noqa: E402

import numpy as np  # noqa: E402
import pytest  # noqa: E402

if os.environ.get("NUMBA_DISABLE_JIT", "0") != "0":
    # Coverage and mutation checks run uncompiled; this library cannot, unless it believes there is no numba.
    _numba, sys.modules["numba"] = sys.modules.get("numba"), None  # type: ignore[assignment]
    import psychrolib  # noqa: F401

    del sys.modules["numba"]
    if _numba is not None:
        sys.modules["numba"] = _numba

from tests.examples import register  # noqa: E402

register()

NUMERICS = {"section", "air", "plant", "house", "run"}


@pytest.fixture(autouse=True)
def _no_silent_arithmetic(request: pytest.FixtureRequest) -> Iterator[None]:
    """In the tests of the numerics, division by zero, overflow and invalid operations are errors."""
    if request.path.parent.name not in NUMERICS:
        yield
        return
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        yield
