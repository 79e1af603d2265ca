"""Several processes that test together compute a check once: `test_table.py` takes what the others found."""

from __future__ import annotations

import os

import pytest

from tests.published import registry


@pytest.fixture(scope="session", autouse=True)
def _rows_are_shared(tmp_path_factory: pytest.TempPathFactory) -> None:
    if "PYTEST_XDIST_WORKER" in os.environ:
        registry.share_rows(tmp_path_factory.getbasetemp().parent / "checks")
