"""One self-contained page about a run: the answer, cautions, heat, temperatures, maps, inputs, trust."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from typing import TYPE_CHECKING, Any

import jinja2
from markupsafe import Markup

from simulator.answers.cautions import STANDING, cautions
from simulator.answers.overnight import overnight
from simulator.look.picking import shown_units
from simulator.look.report.book import Book
from simulator.look.report.charts import along_ducts, over_time
from simulator.look.report.heat_flow import flow_markup, heat_flows
from simulator.look.report.map_view import MapView, map_view
from simulator.look.report.numbers import pretty
from simulator.look.report.words import (
    accounts,
    assurance_texts,
    caution_texts,
    courses_table,
    headline,
    lows_table,
)

if TYPE_CHECKING:
    from simulator.answers.overnight import Overnight
    from simulator.look.report.numbers import Number
    from simulator.look.scales import Units
    from simulator.store.reader import Results

__all__ = ["InputRow", "InputTable", "report_page"]

_FOLDER = "simulator.look.report"


@dataclass(frozen=True)
class InputRow:
    """One key of the case as it was understood, in both systems of units."""

    key: str
    si: str
    us: str
    origin: str


@dataclass(frozen=True)
class InputTable:
    """A table of the case file."""

    name: str
    rows: Sequence[InputRow]


def report_page(
    results: Results,
    night: Overnight | None = None,
    *,
    units: Units | None = None,
    inputs: Sequence[InputTable] = (),
    most_picture_bytes: int = 3_000_000,
) -> str:
    """Write the report of a run as one page that needs nothing from outside.

    Parameters
    ----------
    results : Results
    night : Overnight, optional
        The stretch of time it is about; the last night when left out.
    units : {"SI", "US"}, optional
        The system shown first; that of the case when left out.
    inputs : sequence of InputTable
        The case as it was understood; its text is shown in any event.
    most_picture_bytes : int
        Size that the maps may take in the page.

    Returns
    -------
    str
        HTML. Every text out of the case is escaped.

    Raises
    ------
    StoreError
        When the results hold no rows.
    """
    night = overnight(results) if night is None else night
    found = cautions(results)
    book = Book(results, night.window)
    maps = map_view(book, most_picture_bytes)

    def ledger(dataset: str) -> Number | None:
        return book.change(dataset) if dataset in results else None

    span = night.window.describe()
    content: dict[str, Any] = {
        "title": " ".join(str(results.attrs["title"]).split()) or str(results.attrs["case_name"]) or "A run",
        "units": shown_units(results, units),
        "window": span,
        "complete": results.complete,
        "file": "" if results.path is None else results.path.name,
        "attrs": results.attrs,
        "headline": headline(book, night, found),
        "cautions": caution_texts(found),
        "standing": STANDING,
        "lows": lows_table(book, night),
        "flows": flow_markup(
            heat_flows(ledger, whole="whole_fuel" in results), f"Where the heat came from and went, {span}"
        ),
        "accounts": accounts(book),
        "kept": night.heat.fraction_kept,
        "over_time": over_time(book),
        "courses": courses_table(book),
        "profiles": along_ducts(book),
        "maps": maps,
        "inputs": inputs,
        "case_text": results.case_text,
        "assurance": assurance_texts(results.summary),
    }
    content["used"] = book.used
    return _render(content, maps)


def _render(content: dict[str, Any], maps: MapView | None) -> str:
    folder = resources.files(_FOLDER)
    style, script = (folder.joinpath(name).read_text(encoding="utf-8") for name in ("page.css", "page.js"))
    surroundings = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True,
                                      lstrip_blocks=True)  # fmt: skip
    surroundings.filters["pretty"] = pretty
    template = surroundings.from_string(folder.joinpath("page.html.j2").read_text(encoding="utf-8"))
    return template.render(
        **content,
        style=Markup(style),
        script=Markup(script),
        # Only this style and this script may act, whatever else got into the page.
        policy=f"default-src 'none'; img-src data:; style-src {_digest(style)}; "
        f"script-src {_digest(script)}; base-uri 'none'; form-action 'none'",
        data=None if maps is None else maps.data,
    )


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
