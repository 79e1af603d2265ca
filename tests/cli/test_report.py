"""`ductfloor report`: a page out of results that were made up, or of a small case."""

from __future__ import annotations

import json


def test_a_page_is_written_beside_where_one_stands(ductfloor, barn, tmp_path) -> None:
    outcome = ductfloor("report", barn)
    assert outcome.code == 0
    page = (tmp_path / "barn.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "Evening charge of the barn floor" in page
    assert 'data-units="SI"' in page
    assert outcome.out.startswith("wrote barn.html (")


def test_units_night_and_name_are_taken(ductfloor, barn, tmp_path) -> None:
    outcome = ductfloor("report", barn, "-o", tmp_path / "x.html", "--units", "us", "--night", 1, "--json")
    told = json.loads(outcome.out)
    page = (tmp_path / "x.html").read_text(encoding="utf-8")
    assert told["bytes"] == (tmp_path / "x.html").stat().st_size
    assert 'data-units="US"' in page
    assert "2024-01-15 18:00 to 2024-01-16 09:00 (night 1 of 2)" in page


def test_inputs_of_the_case_are_in_it(ductfloor, case_file, tmp_path) -> None:
    assert ductfloor("run", case_file, "--no-pictures", "--quiet").code == 0
    assert ductfloor("report", "shed.h5").code == 0
    page = (tmp_path / "shed.html").read_text(encoding="utf-8")
    # 0.4 m over 0.3048 m
    assert '<span class="si">40 cm</span><span class="us">1.3123 ft</span>' in page


def test_another_ending_is_refused_and_nothing_written(ductfloor, barn, tmp_path) -> None:
    outcome = ductfloor("report", barn, "-o", "x.pdf")
    assert outcome.code == 2
    assert "is written as .html or .htm; try x.html" in outcome.err
    assert not list(tmp_path.glob("x.*"))


def test_a_folder_that_is_not_there_is_told(ductfloor, barn) -> None:
    outcome = ductfloor("report", barn, "-o", "nowhere/x.html")
    assert outcome.code == 2
    assert "cannot be written: No such file" in outcome.err


def test_help_gives_examples(ductfloor) -> None:
    assert "ductfloor report overnight.h5" in ductfloor("report", "--help").out
