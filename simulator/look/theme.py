"""Colours, line styles and type sizes of every picture, the same whatever the reader's own settings are."""

from __future__ import annotations

import functools
import io
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, ParamSpec, TypeVar

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

Parameters = ParamSpec("Parameters")
Returned = TypeVar("Returned")

__all__ = [
    "COLOURS",
    "COLOUR_MAP",
    "FAINT",
    "FIGURE_DPI",
    "FIGURE_WIDTH",
    "INK",
    "LINE_STYLES",
    "MUTED",
    "SIZE_NOTE",
    "SIZE_TEXT",
    "SIZE_TITLE",
    "LineStyle",
    "new_figure",
    "themed",
    "under_theme",
]

FIGURE_WIDTH = 12.0
FIGURE_DPI = 100.0
SIZE_TITLE = 15.0
SIZE_TEXT = 11.0
SIZE_NOTE = 9.5

INK = "#1a1a1a"
MUTED = "#5c5c5c"
FAINT = "#d4d4d4"

# Even steps of lightness that stay apart for colour-blind readers and in grey print.
COLOUR_MAP = "viridis"

# Eight hues that stay apart for colour-blind readers: Okabe and Ito, "Color Universal Design" (2008); their
# yellow is left out because it is lost on white, their light blue and orange are a little darker for the same
# reason.
COLOURS = ("#0072B2", "#D55E00", "#008A67", "#B5579A", "#3A3A3A", "#C98500", "#3C9DD0")
LineStyle = str | tuple[float, tuple[float, ...]]
LINE_STYLES: tuple[LineStyle, ...] = (
    "solid",
    (0.0, (6.0, 2.0)),
    (0.0, (6.0, 2.0, 1.5, 2.0)),
    (0.0, (1.5, 1.5)),
    (0.0, (10.0, 3.0)),
    (0.0, (4.0, 1.5, 1.0, 1.5, 1.0, 1.5)),
    (0.0, (3.0, 3.0)),
)

SETTINGS: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": SIZE_TEXT,
    "axes.titlesize": SIZE_TITLE,
    "axes.labelsize": SIZE_TEXT,
    "axes.labelcolor": INK,
    "axes.edgecolor": MUTED,
    "axes.linewidth": 0.8,
    "xtick.labelsize": SIZE_NOTE,
    "ytick.labelsize": SIZE_NOTE,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "text.usetex": False,
    "text.parse_math": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "grid.color": FAINT,
    "grid.linewidth": 0.6,
    "lines.linewidth": 1.9,
    "svg.fonttype": "path",
    "svg.hashsalt": "ductfloor",
}


# The settings of the drawing library belong to the whole process: threads take turns.
ONE_AT_A_TIME = threading.RLock()
_held: list[bool] = []


def themed(draw: Callable[Parameters, Returned]) -> Callable[Parameters, Returned]:
    """Run a drawing function under the settings of this module, whatever the reader's own are."""

    @functools.wraps(draw)
    def wrapper(*args: Parameters.args, **kwargs: Parameters.kwargs) -> Returned:
        with under_theme():
            return draw(*args, **kwargs)

    return wrapper


@contextmanager
def under_theme() -> Iterator[None]:
    """Hold the settings of this module; within it they are not set again, which takes a while."""
    with ONE_AT_A_TIME:
        if _held:
            yield
            return
        with mpl.rc_context():
            mpl.rcdefaults()
            mpl.rcParams.update(SETTINGS)
            _held.append(True)
            try:
                yield
            finally:
                _held.pop()


class Picture(Figure):
    """A figure that notebooks show by itself."""

    def _repr_png_(self) -> bytes:
        """Draw the picture for a notebook."""
        buffer = io.BytesIO()
        self.savefig(buffer, format="png")
        return buffer.getvalue()


def new_figure(height: float, figure: Figure | None = None) -> Figure:
    """Give the figure back, or make one of the usual width and the given height [in], with a canvas."""
    if figure is not None:
        return figure
    made = Picture(figsize=(FIGURE_WIDTH, height), dpi=FIGURE_DPI, facecolor="white")
    FigureCanvasAgg(made)
    return made
