"""Tables for notebooks: plain HTML without scripts, every text escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

__all__ = ["Displayed", "table_html"]


def table_html(
    title: str, head: Sequence[str], rows: Iterable[Sequence[object]], notes: Iterable[str] = ()
) -> str:
    """Write a table with a caption, and notes below it.

    Parameters
    ----------
    title : str
    head : sequence of str
        Heads of the columns; the first one stands over the labels.
    rows : iterable of sequence
    notes : iterable of str

    Returns
    -------
    str
    """
    left = "text-align:left;vertical-align:top;padding:2px 14px 2px 0;max-width:60em"

    def line(cells: Sequence[object], tag: str) -> str:
        written = "".join(f'<{tag} style="{left}">{escape(str(cell))}</{tag}>' for cell in cells)
        return f"<tr>{written}</tr>"

    caption = f'<caption style="{left};font-weight:bold">{escape(title)}</caption>'
    heads = f"<thead>{line(head, 'th')}</thead>" if any(head) else ""
    body = "".join(line(row, "td") for row in rows)
    below = "".join(f"<p>{escape(note)}</p>" for note in notes)
    return f"<table>{caption}{heads}<tbody>{body}</tbody></table>{below}"


class Displayed:
    """An answer that notebooks show as a table in both systems of units.

    It has `as_rows(units)` with the same labels in either system.
    """

    def _repr_html_(self) -> str:
        """Write the answer as a table."""
        # Answers are told in either system of units row by row.
        rows_of = self.as_rows  # type: ignore[attr-defined]
        pairs = zip(rows_of("SI"), rows_of("US"), strict=True)
        listed = [(label, si, us) for (label, si), (_, us) in pairs]
        return table_html(_spaced(type(self).__name__), ("", "SI", "US"), listed)


def _spaced(name: str) -> str:
    """Write the name of a class as words."""
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name).strip()
    return words[:1].upper() + words[1:]
