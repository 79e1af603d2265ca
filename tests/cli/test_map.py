"""`ductfloor map`: pictures of chosen moments and stations."""

from __future__ import annotations

from pathlib import Path

import pytest

PNG = b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ((), "barn-map-section.png"),
        (("--plan",), "barn-map-plan.png"),
        (("--station", "3 m", "--time", "+7 h", "--depth", "1 m"), "barn-map-section.png"),
        (("--station", "12", "--time", "2024-01-16 06:00", "--depth", "all"), "barn-map-section.png"),
        (("--units", "US", "--out", "other.png"), "other.png"),
        (("--branch", "2"), "barn-branch-2.png"),
        (("--branch", "branch 2", "--time", "+2 h", "--time", "+4 h"), "barn-branch-2.png"),
        (("--fan", "--time", "22:00"), "barn-fan.png"),
    ],
)
def test_a_picture_is_written(ductfloor, barn, words, name) -> None:
    outcome = ductfloor("map", barn, *words)
    assert (outcome.code, outcome.out) == (0, f"wrote {name}\n"), outcome.err
    assert Path(name).read_bytes().startswith(PNG)


def test_svg_by_its_ending(ductfloor, barn) -> None:
    assert ductfloor("map", barn, "--plan", "--out", "floor.svg").code == 0
    assert "<svg" in Path("floor.svg").read_text(encoding="utf-8")[:2000]


def test_the_picture_follows_the_station_and_the_time(ductfloor, barn) -> None:
    pictures = []
    for station, time in (("1", "+8 h"), ("12", "+8 h"), ("1", "+2 h"), ("0.2 m", "+8 h")):
        assert ductfloor("map", barn, "--station", station, "--time", time, "--out", "a.png").code == 0
        pictures.append(Path("a.png").read_bytes())
    first, far, early, near = pictures
    assert first not in (far, early)
    assert near == first  # stations are 1 m long, so 0.2 m lies in the first


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--station", "0"), "--station 0: there is no such station; allowed: 1 to 12"),
        (("--station", "13"), "--station 13: there is no such station; allowed: 1 to 12"),
        (("--station", "13 m"), "is not along the ducts; allowed: 0 m to 12 m"),
        (("--station", "middle"), "--station"),
        (("--time", "+99 h"), "2024-01-19 21:00"),
        (("--depth", "3"), "--depth"),
        (("--depth", "0 m"), "must be above 0"),
        (("--plan", "--station", "3"), "belong to a section"),
        (("--branch", "2", "--depth", "1 m"), "belong to a section; leave them out, or leave out --branch"),
        (("--branch", "2", "--plan"), "pictures of their own"),
        (("--fan", "--plan"), "pictures of their own"),
        (("--branch", "5"), 'branch "5": allowed: 1 to 4, or a name: branch 1,'),
        (("--time", "+1 h", "--time", "+2 h"), "--time: give it once"),
        (("--flue",), "these results hold no flue run"),
        (("--flue", "--fan"), "pictures of their own"),
        (("--branch", "1", *["--time", "+1 h"] * 8), "8 times: allowed: 1 to 7"),
        (("--out", "a.bmp"), "a.bmp"),
        (("--out", "nowhere/a.png"), "nowhere/a.png"),
    ],
)
def test_what_cannot_be_drawn_is_explained(ductfloor, barn, words, told) -> None:
    outcome = ductfloor("map", barn, *words)
    assert outcome.code == 2
    assert told in outcome.err
    assert [path.name for path in Path().iterdir()] == ["barn.h5"]
