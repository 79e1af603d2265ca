"""What `import simulator` offers, and how it shows itself in notebooks."""

from __future__ import annotations

import ast
import datetime as dt
import os
import runpy
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

import simulator
from simulator.store.table_html import table_html
from tests.look.made_up import Shape, make_results

ROOT = Path(__file__).parents[2]
EVIL = "<script>alert(1)</script>"
VOID = {"br", "img", "hr"}


class Reading(HTMLParser):
    """Tags that are opened and never closed, and the text between them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs) -> None:
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data) -> None:
        self.words += data + "\n"


@pytest.fixture(scope="module")
def night():
    with make_results(Shape(title=EVIL, hours=20.0, rows_per_hour=4.0, maps=3)) as results:
        yield results


@pytest.mark.parametrize("name", sorted(simulator.__all__))
def test_every_public_name_is_there(name) -> None:
    assert getattr(simulator, name) is not None
    assert name in dir(simulator)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'overnite'"):
        simulator.overnite  # noqa: B018


def test_names_for_type_checkers_are_the_names_for_all() -> None:
    tree = ast.parse((ROOT / "simulator" / "__init__.py").read_text(encoding="utf-8"))
    guarded = next(node for node in tree.body if isinstance(node, ast.If))
    named = {alias.asname or alias.name for node in guarded.body for alias in node.names}
    assert named == set(simulator.__all__) - {"run"}


def test_the_import_alone_loads_nothing_heavy() -> None:
    code = "import sys, simulator; print([n for n in ('numpy', 'h5py', 'matplotlib') if n in sys.modules])"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    outcome = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=True
    )
    assert outcome.stdout == "[]\n"


def test_answers_show_themselves_in_both_systems(night) -> None:
    begin, end = 0.0, 3600.0 * 20
    shown = [
        simulator.overnight(night),
        simulator.heat_account(night, begin, end),
        simulator.water_sum(flow="1 gpm", entering="60 F", leaving="80 F"),
        simulator.air_flow(night, begin, end),
        simulator.cautions(night),
        night,
    ]
    for answer in shown:
        if answer is None:
            continue
        read = Reading(answer._repr_html_())
        assert read.open == []
        assert "table" in read.tags
        assert "script" not in read.tags
    words = Reading(simulator.overnight(night)._repr_html_()).words
    assert "degC" in words
    assert "degF" in words


def test_a_title_that_is_mark_up_stays_text(night) -> None:
    html = night._repr_html_()
    assert EVIL not in html
    assert EVIL in Reading(html).words
    assert "20 " not in repr(night).split(",")[0]
    assert "rows" in repr(night)


def test_texts_in_tables_are_escaped() -> None:
    read = Reading(table_html(EVIL, (EVIL, "b"), [(EVIL, 1)], [EVIL]))
    assert "script" not in read.tags
    assert read.words.count(EVIL) == 4


def test_pictures_show_themselves(night) -> None:
    # the first eight bytes of every PNG
    assert simulator.night_chart(night)._repr_png_()[:8] == b"\x89PNG\r\n\x1a\n"


def test_the_example_notebook_runs(capsys, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    names = runpy.run_path(str(ROOT / "cases" / "notebook.py"))
    printed = capsys.readouterr().out
    assert "The room is down to" in printed
    assert "of the fire" in printed
    # It is about the night that the case asks for.
    assert names["night"].window.end == dt.datetime(2031, 2, 21, 9)
    assert list(tmp_path.iterdir()) == []
    names["results"].close()
    names["dataset"].close()


def test_the_example_is_made_of_cells() -> None:
    text = (ROOT / "cases" / "notebook.py").read_text(encoding="utf-8")
    assert text.startswith("# %% [markdown]\n")
    assert text.count("\n# %%\n") >= 8
