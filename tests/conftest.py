"""Before numpy is loaded: one thread for linear algebra, so that last digits do not depend on luck."""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

from collections.abc import Iterator  # noqa: E402

import numpy as np  # noqa: E402
import pytest  # noqa: E402

from tests.uncompiled import UNCOMPILED, prepare  # noqa: E402

if UNCOMPILED:
    prepare()

from tests.examples import register  # noqa: E402

register()

NUMERICS = {"section", "air", "plant", "house", "run"}
COMPILE_FIRST = (
    "run/test_loop.py", "run/test_flue_run.py", "plant/test_chain_accounts.py", "run/test_moist_run.py",
)  # fmt: skip
"""Files that compile different loops, for two processes in turn: each finds what the other one compiled."""


def pytest_configure(config: pytest.Config) -> None:
    """Hand files to several processes in the order below, not those with most tests first."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put long files early: one at the end would keep one process busy while the other has nothing left.

    Before them come the files that compile most; last the table of published checks, which takes what their
    own files computed.
    """
    long = {item.path for item in items if item.get_closest_marker("slow")}
    first = {name: place for place, name in enumerate(COMPILE_FIRST)}

    def order(item: pytest.Item) -> tuple[bool, int, bool]:
        name = f"{item.path.parent.name}/{item.path.name}"
        return item.path.name == "test_table.py", first.get(name, len(first)), item.path not in long

    items.sort(key=order)


@pytest.fixture(autouse=True)
def _no_silent_arithmetic(request: pytest.FixtureRequest) -> Iterator[None]:
    """In the tests of the numerics, division by zero, overflow and invalid operations are errors.

    Compiled loops never say a word about them, and so shall they not as plain Python.
    """
    if UNCOMPILED:
        with np.errstate(all="ignore"):
            yield
        return
    if request.path.parent.name not in NUMERICS:
        yield
        return
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        yield
