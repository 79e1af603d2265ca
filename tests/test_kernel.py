"""Compiled loops come back from disk, link into loops that are compiled later, and keep their arithmetic."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from simulator.kernel import kernel
from tests.uncompiled import UNCOMPILED

ROOT = Path(__file__).parent.parent
LOOPS = """
from simulator.kernel import kernel

@kernel
def square(x):
    return x * x

@kernel
def total(values):
    found = 0.0
    for value in values:
        found += square(value)
    return found

@kernel
def twice(values):
    return 2.0 * total(values)
"""


def told(code: str, folder: Path) -> list[str]:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(folder / "cache"), "PYTHONPATH": f"{ROOT}:{folder}"}
    environment.pop("NUMBA_DISABLE_JIT", None)
    run = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    return run.stdout.split()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "loops.py").write_text(LOOPS)
    return tmp_path


def hits(name: str) -> str:
    return f"print(sum({name}.stats.cache_hits.values()))\n"


def test_a_loop_is_fetched_from_disk_by_the_next_process(folder: Path) -> None:
    code = "import numpy as np; from loops import *\nprint(total(np.arange(4.0)))\n" + hits("total")
    assert told(code, folder) == ["14.0", "0"]
    before = {path: path.stat().st_mtime_ns for path in (folder / "cache").rglob("*.nb?")}
    assert before
    assert told(code, folder) == ["14.0", "1"]
    assert {path: path.stat().st_mtime_ns for path in (folder / "cache").rglob("*.nb?")} == before


def test_a_fetched_loop_is_linked_into_one_compiled_later(folder: Path) -> None:
    told("import numpy as np; from loops import *\ntotal(np.arange(4.0))", folder)
    code = "import numpy as np; from loops import *\nprint(total(np.arange(4.0)), twice(np.arange(4.0)))\n"
    assert told(code + hits("total") + hits("twice"), folder) == ["14.0", "28.0", "1", "0"]
    # Nothing of the fetched one is left out of what is now stored.
    last = "import numpy as np; from loops import *\nprint(twice(np.arange(3.0)))\n" + hits("twice")
    assert told(last, folder) == ["10.0", "1"]


def test_another_type_of_argument_is_compiled_beside_the_fetched_one(folder: Path) -> None:
    told("import numpy as np; from loops import *\ntotal(np.arange(4.0))", folder)
    code = "import numpy as np; from loops import *\nprint(total(np.arange(4.0)), total(np.arange(4)))\n"
    assert told(code + hits("total"), folder) == ["14.0", "14.0", "1"]


PRODUCTS = """
import numpy as np
from simulator.kernel import kernel

@kernel(exact=True)
def product(a, b):
    if a.shape[0] > 3:
        raise ValueError("too large", a.shape[0])
    found = np.zeros((a.shape[0], b.shape[1]))
    np.dot(a, b, found)
    return found.sum() + np.median(np.sort(a[0])) + len(str(a.shape[0]))
"""


def test_what_the_library_compiled_from_is_loaded_only_to_compile(folder: Path) -> None:
    """Fetched loops give the same, raise the same, and link with loops that are compiled later."""
    (folder / "products.py").write_text(PRODUCTS)
    parts = "print('numba.np.arraymath' in sys.modules, 'numba.cpython.unicode' in sys.modules)\n"
    code = (
        "import sys, numpy as np; from products import *\n"
        "print(product(np.eye(3), np.eye(3)))\n"
        "try: product(np.eye(4), np.eye(4))\n"
        "except ValueError as error: print(*error.args[0].split(), error.args[1])\n"
    )
    first = told(code + parts, folder)
    again = told(code + parts + hits("product"), folder)
    assert first == ["4.0", "too", "large", "4", "True", "True"]
    assert again == ["4.0", "too", "large", "4", "False", "False", "1"]
    more = "print(product(np.eye(3, dtype=np.float32), np.eye(3, dtype=np.float32)))\n"
    late = code + "from loops import *\nprint(twice(np.arange(4.0)))\n"
    assert told(late + hits("product"), folder) == ["4.0", "too", "large", "4", "28.0", "1"]
    assert told(code + more.replace("float32", "float64") + hits("product"), folder)[-2:] == ["4.0", "1"]


@pytest.mark.skipif(UNCOMPILED, reason="plain Python divides as it always does")
def test_arithmetic_is_that_of_arrays_unless_exact() -> None:
    """IEEE 754: one over zero is infinite, and a NaN stays one."""

    @kernel
    def inverse(x):
        return 1.0 / x

    @kernel(exact=True)
    def inverse_to_the_letter(x):
        return 1.0 / x

    assert inverse(0.0) == np.inf
    assert np.isnan(inverse(np.nan))
    with pytest.raises(ZeroDivisionError):
        inverse_to_the_letter(0.0)
