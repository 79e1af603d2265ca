"""What is spared is spared, is there for whoever asks for it, and changes nothing else."""

from __future__ import annotations

import subprocess
import sys

from simulator.case.loader import starter_text


def seen(code: str) -> list[str]:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_tools_of_the_array_library_come_when_asked_for() -> None:
    code = (
        "from simulator.cli.spared import spare_tools; spare_tools()\n"
        "import sys, numpy, scipy.sparse.linalg, scipy.spatial\n"
        "import simulator.store.record, simulator.answers.cautions\n"
        "print('numpy.testing._private' in sys.modules, 'numpy.f2py.crackfortran' in sys.modules)\n"
        "numpy.testing.assert_allclose([1.0], [1.0])\n"
        "print('numpy.testing._private' in sys.modules)\n"
        "import numpy.testing as again\n"
        "again.assert_array_equal([1], [1]); print(callable(again.assert_allclose))\n"
    )
    assert seen(code) == ["False", "False", "True", "True"]


def test_dense_algebra_comes_when_asked_for() -> None:
    code = (
        "from simulator.cli.spared import spare_tools; spare_tools()\n"
        "import sys, threading, numpy as np, scipy.linalg.cython_blas\n"
        "print('scipy.linalg._decomp' in sys.modules)\n"
        "found = []\n"
        "def ask(): found.append(float(sys.modules['scipy.linalg'].eigvalsh(np.eye(2))[1]))\n"
        "threads = [threading.Thread(target=ask) for _ in range(8)]\n"
        "[thread.start() for thread in threads]; [thread.join() for thread in threads]\n"
        "import scipy.sparse.linalg; from scipy import linalg; from scipy.linalg import svd\n"
        "print(set(found), len(found), type(linalg).__name__, svd(np.eye(3))[1].sum())\n"
        "try: linalg.no_such_name\n"
        "except AttributeError: print('none')\n"
    )
    assert seen(code) == ["False", "{1.0}", "8", "module", "3.0", "none"]


def test_a_kept_section_needs_no_dense_algebra_nor_sparse_matrices(tmp_path) -> None:
    """A start with everything kept loads neither."""
    case = tmp_path / "case.toml"
    case.write_text(starter_text())
    code = (
        "import sys; from simulator.cli.spared import spare_tools; spare_tools()\n"
        "from pathlib import Path; from simulator.case.loader import load\n"
        "from simulator.store.record import record\n"
        f"record(load(Path({str(case)!r})), Path({str(tmp_path / 'out.h5')!r})).close()\n"
        "heavy = ('scipy.linalg._decomp', 'scipy.sparse')\n"
        "print(*[name for name in heavy if name in sys.modules])\n"
    )
    seen(code)
    assert seen(code) == []


def test_the_drawing_library_draws_without_help_texts() -> None:
    code = (
        "from simulator.cli.spared import spare_help_texts; spare_help_texts()\n"
        "from matplotlib.figure import Figure\n"
        "from matplotlib.lines import Line2D\n"
        "axes = Figure().add_subplot(); line, = axes.plot([0, 1]); line.set(linewidth=3.0)\n"
        "print(line.get_linewidth(), 'linewidth:' in (Line2D.set.__doc__ or ''))\n"
    )
    assert seen(code) == ["3.0", "False"]
