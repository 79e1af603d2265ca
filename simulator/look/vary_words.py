"""What the charts of a variation say in words: keys, failed runs, what was held."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied
    from simulator.case.ranges import Variation

__all__ = ["capital", "heading_lines", "key_word", "x_places"]


def key_word(variation: Variation) -> str:
    """Name of what was varied, for an axis."""
    return " = ".join(variation.keys)


def capital(text: str) -> str:
    """Begin with a capital letter."""
    return text[:1].upper() + text[1:]


def heading_lines(varied: Varied, outputs: list[Output], more: str = "") -> list[str]:
    """Lines below the title of a chart."""
    lines = [varied.title] if varied.title.strip() else []
    failed = len(varied.failed)
    said = f"{len(varied.rows)} runs"
    if failed:
        said += f", {failed} of them failed and {'is' if failed == 1 else 'are'} not drawn"
    lines.append(f"{said}. {more}".strip())
    if len(outputs) == 1:
        lines.append(f"{capital(outputs[0].name)}: {outputs[0].meaning}.")
    return lines


def x_places(varied: Varied, place: int) -> tuple[np.ndarray, list[str] | None]:
    """Places of the runs along a key: in SI, or 0, 1, 2 ... for words, which are given along."""
    numbers = varied.numbers(place)
    if varied.variations[place].numbers is not None:
        return numbers, None
    words = list(dict.fromkeys(str(row.values[place]) for row in varied.rows))
    return np.array([float(words.index(str(row.values[place]))) for row in varied.rows]), words
