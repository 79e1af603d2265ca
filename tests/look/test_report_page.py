"""The report page, read back: whole, self-contained, traceable, and deaf to hostile titles."""

from __future__ import annotations

import base64
import io
import itertools
import json
import re
from html.parser import HTMLParser
from importlib import resources
from pathlib import Path

import h5py
import html5lib
import numpy as np
import pytest
from PIL import Image

from simulator.case.units import parse
from simulator.look.report.page import InputRow, InputTable, report_page
from simulator.store.reader import Results
from tests.look.made_up import Shape, make_results

HOSTILE = (
    '</title><script>document.title="broken"</script><img src=x onerror="alert(1)">" onload="alert(2) {{7*7}}'
)


class Page(HTMLParser):
    """Elements of a page with their attributes and the text inside each."""

    VOID = frozenset({"meta", "input", "br", "img", "link", "hr"})

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str], list[str]]] = []
        self.open: list[tuple[str, list[str]]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        inside: list[str] = []
        self.elements.append((tag, {name: value or "" for name, value in attrs}, inside))
        if tag not in self.VOID:
            self.open.append((tag, inside))

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, {name: value or "" for name, value in attrs}, []))

    def handle_endtag(self, tag):
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data):
        for _, inside in self.open:
            inside.append(data)

    def having(self, name):
        return [(tag, attrs, "".join(text)) for tag, attrs, text in self.elements if name in attrs]


@pytest.fixture(scope="module")
def barn_file(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("report") / "barn.h5"
    with make_results(Shape(hours=40.0, rows_per_hour=4.0, maps=11)) as results:
        path.write_bytes(bytes(results._file.id.get_file_image()))
    return path


@pytest.fixture(scope="module")
def page_text(barn_file) -> str:
    table = InputTable("floor", [InputRow("width", "8 m", "26.247 ft", "given")])
    with Results(barn_file) as results:
        return report_page(results, units="US", inputs=[table])


@pytest.fixture(scope="module")
def page(page_text) -> Page:
    return Page(page_text)


def test_the_page_is_sound_html(page_text) -> None:
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(page_text)
    assert parser.errors == []


def reduced(series: np.ndarray, seconds: np.ndarray, how: str, begin: float, end: float, moving) -> float:
    """Work out a number of the report anew, from the file alone."""
    inside = seconds[(seconds > begin) & (seconds < end)]
    moments = np.unique([begin, *inside, end])
    course = np.interp(moments, seconds, series)
    if how == "at":
        return float(np.interp(end, seconds, series))
    if how == "lowest":
        return float(course.min())
    if how == "highest":
        return float(course.max())
    if how == "lowest while air moves":
        rows = (seconds >= begin) & (seconds <= end) & moving
        return float(series[rows].min())
    if how == "change":
        return float(course[-1] - course[0])
    rises = np.diff(course)
    return float(rises[rises > 0].sum() if how == "rises" else -rises[rises < 0].sum())


def test_every_number_is_what_the_file_holds(page, barn_file) -> None:
    numbers = page.having("data-how")
    assert len(numbers) > 60
    with h5py.File(barn_file) as file:
        seconds, moving = file["time"][:], file["mass_flow"][:] > 0
        for _, attrs, _ in numbers:
            dataset = file[attrs["data-dataset"]]
            begin, end = float(attrs["data-begin"]), float(attrs["data-end"])
            expected = reduced(dataset[:], seconds, attrs["data-how"], begin, end, moving)
            assert float(attrs["data-value"]) == pytest.approx(expected, rel=1e-9, abs=1e-6), attrs
            assert attrs["data-unit"] == dataset.attrs["units"]
            assert attrs["title"].startswith(attrs["data-dataset"])


def plain(text: str) -> str:
    """A number as people type it, from one as print has it."""
    return text.replace("−", "-").replace(",", "").replace("°", "deg").replace("million BTU", "MMBTU")


DIMENSION = {"degC": "temperature", "J": "energy", "W": "power"}


def test_the_text_of_every_number_says_the_same_in_both_systems(page) -> None:
    numbers = [found for found in page.having("data-how") if found[1]["data-unit"] in DIMENSION]
    texts: dict[str, list[str]] = {}
    for tag, attrs, text in page.elements:
        if tag == "span" and attrs.get("class") in {"si", "us"}:
            texts.setdefault(attrs["class"], []).append("".join(text))
    assert len(texts["si"]) == len(texts["us"])
    for _, attrs, both in numbers:
        value, unit = float(attrs["data-value"]), attrs["data-unit"]
        si = value + 273.15 if unit == "degC" else value
        found = re.findall(r"[−-]?[\d,.]+ (?:million BTU|[°A-Za-z/]+)", both)
        assert len(found) in {1, 2}, both
        for text in found:
            # three figures: within 0.6 %; heat of a few watt-hours at most is written as 0
            off = {"rel": 0.0, "abs": 0.06} if unit == "degC" else {"rel": 6e-3, "abs": 2000.0}
            assert parse(plain(text), DIMENSION[unit]) == pytest.approx(si, **off)


def test_flows_are_as_wide_as_the_ledger_says(page, barn_file) -> None:
    with Results(barn_file) as results:
        names = [name for name in results if name.startswith("ledger_")]
    flows = [attrs for tag, attrs, _ in page.elements if "data-joules" in attrs]
    assert flows
    assert {attrs["data-dataset"] for attrs in flows} <= set(names)
    window = next(attrs for _, attrs, _ in page.having("data-how") if attrs["data-how"] == "change")
    ends = float(window["data-begin"]), float(window["data-end"])
    with h5py.File(barn_file) as file:
        for attrs in flows:
            before, after = np.interp(ends, file["time"][:], file[attrs["data-dataset"]][:])
            assert float(attrs["data-joules"]) == pytest.approx(after - before, rel=1e-9)
    by_width = sorted(flows, key=lambda attrs: float(attrs["data-wide"]))
    widest = by_width[-1]
    for attrs in flows:
        share = abs(float(attrs["data-joules"]) / float(widest["data-joules"]))
        drawn = float(attrs["data-wide"]) / float(widest["data-wide"])
        assert drawn == pytest.approx(share, rel=1e-9) or float(attrs["data-wide"]) == 0.8


def test_readings_beside_the_maps_are_those_of_the_file(page_text, barn_file) -> None:
    data = data_of(page_text)
    with h5py.File(barn_file) as file:
        seconds = file["time"][:]
        for dataset, readings in data["readings"].items():
            for at, (value, si, us) in zip(data["seconds"], readings, strict=True):
                if value is None:
                    assert file["mass_flow"][np.searchsorted(seconds, at)] == 0
                    continue
                assert value == file[dataset][np.searchsorted(seconds, at)]
                # one decimal: within half of a tenth of a degree of its own
                for text, off in ((si, 0.0501), (us, 0.0501 / 1.8)):
                    assert parse(plain(text), "temperature") - 273.15 == pytest.approx(value, abs=off)


def data_of(page_text: str) -> dict:
    return json.loads(
        re.search(r'<script type="application/json" id="data">(.*?)</script>', page_text, re.S)[1]
    )


def test_colours_of_the_plan_are_the_temperatures_of_the_file(page_text, barn_file) -> None:
    data = data_of(page_text)
    low, high = data["range"]["plan"]
    with h5py.File(barn_file) as file:
        fields = file["floor_surface_temperature"][:]
        along, edge = file["station"][:], file["edge"][:]
    for frame, field in enumerate(data["fields"]):
        png = base64.b64decode(data["plan"][frame].partition(",")[2])
        entries = np.asarray(Image.open(io.BytesIO(png)))
        shown = low + entries / (len(data["palette"]) - 1) * (high - low)
        # the middle column of pixels of a station, over all the width of the floor
        station = along.size // 2
        column = int((along[station] - edge[0]) / (edge[-1] - edge[0]) * entries.shape[1])
        truth = np.clip(fields[field][station].mean(), low, high)
        assert shown[:, column].mean() == pytest.approx(truth, abs=0.02 * (high - low) + 0.02)


def test_nothing_comes_from_outside(page_text, page) -> None:
    without_pictures = re.sub(r"data:image/png;base64,[A-Za-z0-9+/=]+", "", page_text)
    assert not re.search(r"(?:https?:)?//[a-z0-9]", without_pictures, re.I)
    assert "url(" not in without_pictures
    for _, attrs, _ in page.elements:
        for name in ("src", "href", "xlink:href", "action", "srcset"):
            assert attrs.get(name, "#")[:1] == "#" or attrs[name].startswith("data:image/png;base64,")


def test_the_page_can_be_read_without_eyes_or_mouse(page) -> None:
    tags = [(tag, attrs) for tag, attrs, _ in page.elements]
    assert next(attrs for tag, attrs in tags if tag == "html")["lang"] == "en"
    drawings = [attrs for tag, attrs in tags if tag == "svg"]
    assert drawings
    assert all(attrs.get("aria-label") or attrs.get("aria-hidden") == "true" for attrs in drawings)
    labelled = {attrs["for"] for tag, attrs in tags if tag == "label" and "for" in attrs}
    inputs = [attrs for tag, attrs in tags if tag in {"input", "select"} and attrs.get("type") != "radio"]
    assert {attrs["id"] for attrs in inputs} <= labelled
    levels = [int(tag[1]) for tag, _ in tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    targets = {attrs["href"][1:] for tag, attrs in tags if tag == "a"}
    assert targets <= set(ids)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2, relative luminance)."""

    def luminance(colour: str) -> float:
        colour = colour.lstrip("#")
        colour = "".join(2 * digit for digit in colour) if len(colour) == 3 else colour
        parts = [int(colour[place : place + 2], 16) / 255 for place in (0, 2, 4)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_stand_out_from_what_is_behind_them() -> None:
    # 4.5 to 1: WCAG 2, success criterion 1.4.3
    style = resources.files("simulator.look.report").joinpath("page.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]+)", style))
    muted, paper = colours["muted"], colours["paper"]
    pairs = [(colours["ink"], "#f4f4f4"), (colours["blue"], paper), ("#a30000", paper)]
    for letters, behind in [*pairs, (muted, paper), (muted, "#fdf0f0"), (muted, "#fdf6e6")]:
        assert contrast(letters, behind) >= 4.5, (letters, behind)
    assert contrast("#000", "#fff") == pytest.approx(21.0)


@pytest.mark.parametrize("units", ["SI", "US"])
def test_hostile_titles_stay_text(units) -> None:
    with make_results(Shape(title=HOSTILE, hours=14.0, rows_per_hour=2.0, maps=2, units=units)) as results:
        table = InputTable("<b>x</b>", [InputRow("<i>k</i>", '"><script>1</script>', "<u>", "given")])
        text = report_page(results, inputs=[table])
    page = Page(text)
    scripts = [(attrs, "".join(inside)) for tag, attrs, inside in page.elements if tag == "script"]
    assert len(scripts) == 2
    assert scripts[0][0]["type"] == "application/json"
    assert "broken" not in scripts[1][1]
    assert not [tag for tag, _, _ in page.elements if tag in {"img", "i", "b", "u", "iframe", "object"}]
    assert not [attrs for _, attrs, _ in page.elements if any(name.startswith("on") for name in attrs)]
    heading = next("".join(inside) for tag, _, inside in page.elements if tag == "h1")
    assert heading == " ".join(HOSTILE.split())
    assert "{{7*7}}" in heading


def test_a_run_without_maps_says_so() -> None:
    with make_results(Shape(hours=14.0, rows_per_hour=2.0, maps=0)) as results:
        text = report_page(results)
    assert "hold no maps" in text
    assert 'id="data"' not in text


def test_pictures_are_thinned_out_to_the_size_allowed(barn_file) -> None:
    with Results(barn_file) as results:
        many = data_of(report_page(results))
        few = data_of(report_page(results, most_picture_bytes=60_000))
    assert len(few["plan"]) < len(many["plan"]) == 11
    assert few["fields"][-1] == many["fields"][-1]
