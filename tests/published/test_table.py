"""The table of checks in DEVELOPERS.md says what the checks say."""

from __future__ import annotations

import pytest

from tests.published import registry, table
from tests.published.registry import Check, Row, all_checks, verify

MAKE = "run: python -m tests.published.table --write"


def lines(*, slow: bool) -> list[table.Cells]:
    found = table.written(table.DOCUMENT.read_text(encoding="utf-8"))
    return [cells for cells in found if cells[0].endswith(table.SLOW) == slow]


def test_table_is_true() -> None:
    assert not table.differences(lines(slow=False), table.expected(slow=False)), MAKE


@pytest.mark.slow
def test_slow_lines_are_true() -> None:
    assert not table.differences(lines(slow=True), table.expected(slow=True)), MAKE


def test_every_line_has_its_own_name_and_a_source() -> None:
    found = table.written(table.DOCUMENT.read_text(encoding="utf-8"))
    assert len({cells[0] for cells in found}) == len(found) > 100
    assert all(len(cells) == len(table.HEAD) and cells[1] for cells in found)


def test_every_check_holds() -> None:
    # Each is verified in its own file as well; this leaves no way to list a row without judging it.
    for check in all_checks():
        if not check.slow:
            check.verify()


@pytest.mark.parametrize("column", range(len(table.HEAD)))
def test_a_changed_cell_is_found(column) -> None:
    wanted = [("a", "book", "1.250", "1.25", "0.01")]
    changed = [tuple("2" if number == column else cell for number, cell in enumerate(wanted[0]))]
    assert table.differences(changed, wanted)
    assert not table.differences(wanted, wanted)


def test_one_in_the_last_digit_is_rounding() -> None:
    wanted = [("a", "book", "1.250", "1.25", "0.01")]
    assert not table.differences([("a", "book", "1.251", "1.25", "0.01")], wanted)
    assert table.differences([("a", "book", "1.252", "1.25", "0.01")], wanted)


def test_a_line_too_many_is_found() -> None:
    wanted = [("a", "book", "1.250", "1.25", "0.01")]
    assert table.differences([*wanted, *wanted], wanted)


@pytest.mark.parametrize("ours", [1.2, float("nan"), float("inf")])
def test_a_row_out_of_tolerance_fails(ours) -> None:
    with pytest.raises(AssertionError, match="a: "):
        verify([Row("a", ours, 1.0, 0.1)])
    with pytest.raises(AssertionError, match="without rows"):
        verify([])


def test_rows_that_another_process_kept_are_the_same_to_the_bit(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(registry, "_SHARED", [])
    registry.share_rows(tmp_path / "checks")
    computed = []

    def compute() -> list[Row]:
        computed.append(1)
        return [Row("third", 1.0 / 3.0, 0.3333, 1e-4, "m"), Row("none", float("nan"), 1.0, 0.1)]

    made = Check("third", "test_table", "arithmetic", "exact", False, compute)
    first, again = (registry._rows_of.__wrapped__(made) for _ in range(2))
    assert len(computed) == 1
    assert again[0] == first[0]
    assert not again[1].holds
