"""Text for pictures: titles that are never read as mark-up, never too long, never of missing letters."""

from __future__ import annotations

import unicodedata
from functools import cache

import numpy as np
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.text import Text

from simulator.look.theme import INK, MUTED, SIZE_TEXT, SIZE_TITLE

__all__ = ["add_heading", "clean", "elapsed_text", "fit", "heading_height", "moment_text", "text_width"]

POINTS_PER_INCH = 72.0
MISSING = "\N{REPLACEMENT CHARACTER}"
ELLIPSIS = "…"


@cache
def _letters() -> frozenset[int]:
    font = get_font(findfont(FontProperties(family="DejaVu Sans")))
    return frozenset(font.get_charmap())


def clean(text: str) -> str:
    """Make one printable line of any text: no control characters, no letters that the type face lacks."""
    known = _letters()
    kept = []
    for letter in text:
        kind = unicodedata.category(letter)
        if kind in {"Cc", "Zl", "Zp", "Zs"}:
            kept.append(" ")
        elif kind in {"Cf", "Cs"}:
            continue
        else:
            kept.append(letter if ord(letter) in known else MISSING)
    return " ".join("".join(kept).split())


@cache
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of text [in] at a type size [pt]."""
    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")))
    font.set_size(size, POINTS_PER_INCH)
    font.set_text(text, 0.0)
    width, _ = font.get_width_height()
    return float(width) / 64.0 / POINTS_PER_INCH


def fit(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Clean a text and cut it so that it takes at most `room` [in], with an ellipsis where it was cut."""
    line = clean(text)
    if text_width(line, size, bold=bold) <= room:
        return line
    low, high = 0, len(line)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(line[:middle].rstrip() + ELLIPSIS, size, bold=bold) <= room:
            low = middle
        else:
            high = middle - 1
    return line[:low].rstrip() + ELLIPSIS


def moment_text(moment: np.datetime64) -> str:
    """Write date and time to the minute, with seconds only where there are any."""
    seconds = moment.astype("datetime64[s]")
    whole_minutes = seconds == seconds.astype("datetime64[m]")
    return str(np.datetime_as_string(seconds, unit="m" if whole_minutes else "s")).replace("T", " ")


def elapsed_text(seconds: float) -> str:
    """Write a span of time in the unit that suits it."""
    if seconds < 3600.0:
        return f"{seconds / 60.0:.3g} min"
    if seconds < 72.0 * 3600.0:
        return f"{seconds / 3600.0:.3g} h"
    return f"{seconds / 86400.0:.4g} days"


def add_heading(figure: Figure, title: str, lines: list[str], *, left: float = 0.2) -> list[Text]:
    """Write a title and lines below it at the top left of a figure, cut to its width.

    Parameters
    ----------
    figure : Figure
    title : str
    lines : list of str
    left : float [in]
        Distance from the left edge, kept free on the right as well.

    Returns
    -------
    list of Text
    """
    width, height = figure.get_size_inches()
    room = width - 2.0 * left
    texts = []
    top = 0.14
    sizes = [(title, SIZE_TITLE, True, INK)] + [(line, SIZE_TEXT, False, MUTED) for line in lines]
    for words, size, bold, colour in sizes:
        texts.append(
            figure.text(
                left / width,
                1.0 - top / height,
                fit(words, room, size, bold=bold),
                fontsize=size,
                fontweight="bold" if bold else "normal",
                color=colour,
                ha="left",
                va="top",
                parse_math=False,
            )
        )
        top += 1.45 * size / POINTS_PER_INCH
    return texts


def heading_height(lines: int) -> float:
    """Height [in] that `add_heading` takes for a title and so many lines below it."""
    return 0.14 + 1.45 * (SIZE_TITLE + lines * SIZE_TEXT) / POINTS_PER_INCH
