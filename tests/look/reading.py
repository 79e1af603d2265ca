"""What a reader sees of a figure."""

from __future__ import annotations

import itertools

from matplotlib.axis import Axis, Tick
from matplotlib.figure import Figure
from matplotlib.text import Text


def words_of(figure: Figure, gid: str | None = None) -> list[Text]:
    """Texts that are drawn; tick labels beyond the ends of their axis are not."""
    figure.canvas.draw()
    beyond: set[Text] = set()
    for axis in figure.findobj(Axis):
        low, high = sorted(axis.get_view_interval())
        slack = 1e-9 * (high - low)
        for tick in axis.findobj(Tick):
            if not low - slack <= tick.get_loc() <= high + slack:
                beyond |= {tick.label1, tick.label2}
    return [
        text
        for text in figure.findobj(Text)
        if text.get_text().strip()
        and text.get_visible()
        and text not in beyond
        and (gid is None or text.get_gid() == gid)
    ]


def text_of(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in words_of(figure))


def collisions(figure: Figure) -> list[str]:
    """Words that cover each other or stick out of the sheet."""
    texts = words_of(figure)
    width, height = figure.canvas.get_width_height()
    boxes = [text.get_window_extent() for text in texts]
    found = [
        f"{text.get_text()!r} leaves the sheet"
        for text, box in zip(texts, boxes, strict=True)
        if box.x0 < 0.0 or box.x1 > width or box.y0 < 0.0 or box.y1 > height
    ]
    for (one, box), (other, second) in itertools.combinations(zip(texts, boxes, strict=True), 2):
        # Slanted labels have boxes larger than their letters.
        slanted = one.get_rotation() % 90 or other.get_rotation() % 90
        if not slanted and box.padded(-1.5).overlaps(second.padded(-1.5)):
            found.append(f"{one.get_text()!r} covers {other.get_text()!r}")
    return found
