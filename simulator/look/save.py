"""The one place where a picture becomes a file."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from simulator.errors import DuctfloorError
from simulator.look.theme import themed

__all__ = ["packed", "save"]

COMPRESSION_LEVEL = 3
OPAQUE = 255
FORMATS = {".png": "png", ".svg": "svg"}


@themed
def save(figure: Figure, path: str | Path) -> Path:
    """Write a figure as PNG or SVG, by the ending of the path; whole or not at all.

    Parameters
    ----------
    figure : Figure
    path : str or Path
        Ends in `.png` or `.svg`. An existing file is replaced.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    DuctfloorError
        When the ending is another one, or the file cannot be written.
    """
    target = Path(path)
    kind = FORMATS.get(target.suffix.lower())
    if kind is None:
        raise DuctfloorError(
            f"{target}: a picture is written as .png or .svg, not {target.suffix or 'without an ending'!r}; "
            f"try {target.with_suffix('.png').name if target.name else 'picture.png'}"
        )
    content = packed(figure, kind)
    part = target.with_name(target.name + ".part")
    try:
        part.write_bytes(content)
        part.replace(target)
    except OSError as problem:
        part.unlink(missing_ok=True)
        reason = problem.strerror or str(problem)
        raise DuctfloorError(f"{target}: the picture cannot be written: {reason}") from problem
    return target


def packed(figure: Figure, kind: str) -> bytes:
    """Draw a figure and give the content of its file; `kind` is "png" or "svg"."""
    buffer = io.BytesIO()
    # Neither date nor program in the file: the same picture is the same bytes.
    if kind == "svg":
        figure.savefig(buffer, format=kind, metadata={"Date": None})
    else:
        _write_png(figure, buffer)
    return buffer.getvalue()


def _write_png(figure: Figure, buffer: io.BytesIO) -> None:
    """Write without the fourth channel where all is opaque: less to pack, so that a quick packing does."""
    before = figure.canvas
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    figure.set_canvas(before)
    seen = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    opaque = bool((seen[..., 3] == OPAQUE).all())
    picture = Image.fromarray(np.ascontiguousarray(seen[..., :3]) if opaque else seen)
    picture.save(buffer, format="png", dpi=(figure.dpi, figure.dpi), compress_level=COMPRESSION_LEVEL)
