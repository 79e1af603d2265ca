"""What is spared is spared, is there for whoever asks for it, and changes nothing else."""

from __future__ import annotations

import subprocess
import sys


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


def test_the_drawing_library_draws_without_help_texts() -> None:
    code = (
        "from simulator.cli.spared import spare_help_texts; spare_help_texts()\n"
        "from matplotlib.figure import Figure\n"
        "from matplotlib.lines import Line2D\n"
        "axes = Figure().add_subplot(); line, = axes.plot([0, 1]); line.set(linewidth=3.0)\n"
        "print(line.get_linewidth(), 'linewidth:' in (Line2D.set.__doc__ or ''))\n"
    )
    assert seen(code) == ["3.0", "False"]
