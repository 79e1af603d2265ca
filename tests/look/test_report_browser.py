"""The report in a real browser: slider, unit toggle, keyboard, hostile titles, a phone, and no complaint."""

from __future__ import annotations

import io
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from simulator.look.report.page import report_page
from tests.look.made_up import Shape, make_results

BROWSER = next(
    (
        found
        for name in ("chromium", "chromium-browser", "google-chrome", "chrome")
        if (found := shutil.which(name))
    ),
    None,
)
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(BROWSER is None, reason="no Chromium or Chrome on this machine"),
]
HOSTILE = '"><script>document.title="broken"</script><img src=x onerror=document.title="broken">'


@pytest.fixture(scope="module")
def pages(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    made = {}
    for name, shape in {
        "barn": Shape(hours=40.0, rows_per_hour=4.0, maps=11, units="US"),
        "hostile": Shape(title=HOSTILE, hours=14.0, rows_per_hour=2.0, maps=3),
    }.items():
        with make_results(shape) as results:
            made[name] = folder / f"{name}.html"
            made[name].write_text(report_page(results), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as player:
        # A browser run by root, as in containers, refuses its own sandbox.
        opened = player.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield opened
        opened.close()


class Visit:
    """A page that is open, and everything the browser said about it."""

    def __init__(self, browser, path: Path, **options) -> None:
        self.context = browser.new_context(**options)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked_for: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked_for.append(request.url))
        self.page.goto(path.as_uri())

    def text(self, selector: str) -> str:
        return self.page.locator(selector).inner_text()


@pytest.fixture
def visit(browser):
    visits: list[Visit] = []

    def go(path: Path, **options) -> Visit:
        visits.append(Visit(browser, path, **options))
        return visits[-1]

    yield go
    for one in visits:
        one.context.close()
        assert one.said == []
        assert [url for url in one.asked_for if not url.startswith(("file:", "data:"))] == []


def pixels(visit: Visit, selector: str) -> np.ndarray:
    shot = visit.page.locator(selector).screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=int)


def test_the_slider_moves_maps_and_readings(visit, pages) -> None:
    one = visit(pages["barn"])
    before = {name: pixels(one, f"#{name}-map") for name in ("section", "plan")}
    moment, room = one.text("#moment-text"), one.text('[data-reading="room_temperature"]')
    one.page.locator("#moment").focus()
    for _ in range(5):
        one.page.keyboard.press("ArrowLeft")
    assert one.text("#moment-text") != moment
    assert one.text('[data-reading="room_temperature"]') != room
    for name, picture in before.items():
        after = pixels(one, f"#{name}-map")
        assert after.shape == picture.shape
        assert (np.abs(after - picture).max(axis=2) > 12).mean() > 0.1


def test_another_station_shows_another_section(visit, pages) -> None:
    one = visit(pages["barn"])
    one.page.locator("#moment").fill("4")
    first = one.page.locator("#section-picture").get_attribute("href")
    one.page.locator("#station").select_option("0")
    assert one.page.locator("#section-picture").get_attribute("href") != first
    assert one.page.locator(".ducts:visible").get_attribute("data-station") == "0"


def test_the_unit_toggle_changes_every_number(visit, pages) -> None:
    one = visit(pages["barn"])
    # everything unfolded, so that hidden tables count as well
    one.page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    in_us = one.text("main")
    one.page.get_by_label("°C, kWh, m").check()
    in_si = one.text("main")
    american, metric = r"\d (°F|BTU|ft|lb|in wg|cfm)\b", r"\d (°C|kWh|W|kW|m|cm|kg|Pa)\b"
    # what is quoted from the case file stays as its author wrote it
    quoted = one.text("pre")
    us_text, si_text = in_us.replace(quoted, ""), in_si.replace(quoted, "")
    assert re.search(american, us_text)
    assert not re.search(metric, us_text)
    assert re.search(metric, si_text)
    assert not re.search(american, si_text)
    fahrenheit = [float(text.replace("−", "-")) for text in re.findall(r"([−\d.]+) °F", us_text)]
    celsius = [float(text.replace("−", "-")) for text in re.findall(r"([−\d.]+) °C", si_text)]
    assert len(fahrenheit) == len(celsius) > 40
    # both rounded to a tenth
    assert np.array(fahrenheit) == pytest.approx(np.array(celsius) * 1.8 + 32.0, abs=0.0501 * 2.8)


def test_the_map_is_read_with_the_keyboard(visit, pages) -> None:
    one = visit(pages["barn"])
    one.page.locator("#plan-map").focus()
    one.page.keyboard.press("ArrowRight")
    playwright.expect(one.page.locator("#plan-map-reading")).to_contain_text("°F")
    one.page.get_by_label("°C, kWh, m").check()
    playwright.expect(one.page.locator("#plan-map-reading")).to_contain_text("°C")


def test_play_runs_to_the_end_and_stops(visit, pages) -> None:
    one = visit(pages["barn"])
    one.page.locator("#moment").fill("8")
    one.page.locator("#play").click()
    playwright.expect(one.page.locator("#moment")).to_have_value("10")
    playwright.expect(one.page.locator("#play")).to_have_text("Play")


def test_nothing_moves_by_itself_for_those_who_asked_for_that(visit, pages) -> None:
    one = visit(pages["barn"], reduced_motion="reduce")
    assert not one.page.locator("#play").is_visible()


def test_a_hostile_title_stays_text(visit, pages) -> None:
    one = visit(pages["hostile"])
    assert one.text("h1") == HOSTILE
    assert one.page.title() == f"{HOSTILE}: report"
    assert one.page.locator("img").count() == 0


def test_a_link_to_a_dataset_opens_the_list(visit, pages) -> None:
    one = visit(pages["barn"])
    one.page.locator('a[href="#d-room_temperature"]').first.click()
    playwright.expect(one.page.locator("#d-room_temperature")).to_be_visible()


def test_a_phone_needs_no_sideways_scrolling(visit, pages) -> None:
    one = visit(pages["barn"], viewport={"width": 360, "height": 740}, has_touch=True)
    width = one.page.evaluate("document.documentElement.scrollWidth")
    assert width <= 360


def test_without_scripts_the_page_still_tells_all(browser, pages) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(pages["barn"].as_uri())
    assert "°F" in page.locator(".answer").inner_text()
    assert page.locator("#section-map").is_visible()
    context.close()


def test_the_page_prints(visit, pages) -> None:
    one = visit(pages["barn"])
    assert one.page.pdf(format="A4").startswith(b"%PDF")
    one.page.emulate_media(media="print")
    assert not one.page.locator("#moment").is_visible()
    assert one.page.locator("#section-map").is_visible()
