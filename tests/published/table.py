"""The table of published checks in DEVELOPERS.md: `python -m tests.published.table --write` makes it anew."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.published.registry import Check, Row, all_checks

DOCUMENT = Path(__file__).parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- checks: begin -->", "<!-- checks: end -->"
HEAD = ("check", "source", "ours", "published", "tolerance")
SLOW = " (slow)"
Cells = tuple[str, ...]


def cells_of(check: Check, row: Row) -> Cells:
    """One line of the table."""
    unit = f" [{row.unit}]" if row.unit else ""
    return (
        row.check + unit + (SLOW if check.slow else ""),
        f"{check.source}; {check.status}",
        f"{row.ours:.{row.decimals}f}",
        f"{row.published:.{row.decimals}f}",
        f"{row.tolerance:.2g}",
    )


def expected(*, slow: bool | None = None) -> list[Cells]:
    """All lines, computed anew; only those of slow checks, or only the others."""
    chosen = [check for check in all_checks() if slow is None or check.slow == slow]
    return [cells_of(check, row) for check in chosen for row in check.rows()]


def written(text: str) -> list[Cells]:
    """Lines of the table as it stands in a document, without its head."""
    inside = text.split(BEGIN, 1)[1].split(END, 1)[0].strip().splitlines()
    return [tuple(cell.strip() for cell in line.strip().strip("|").split("|")) for line in inside[2:]]


def differences(found: Iterable[Cells], wanted: Iterable[Cells]) -> list[str]:
    """What must change in the table. `ours` may differ by one in its last digit, as rounding may."""
    found, wanted = list(found), list(wanted)
    names = [cells[0] for cells in found]
    if names != [cells[0] for cells in wanted]:
        return ["the checks in the table are not those of the tests"]
    messages = []
    for old, new in zip(found, wanted, strict=True):
        last_digit = 10.0 ** -len(new[2].partition(".")[2])
        if old[1:2] + old[3:] != new[1:2] + new[3:] or abs(float(old[2]) - float(new[2])) > 1.01 * last_digit:
            messages.append(f"{old} should be {new}")
    return messages


def rendered(lines: Sequence[Cells]) -> str:
    """The table in Markdown."""
    rows = [HEAD, ("---",) * len(HEAD), *lines]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in rows)


def main(arguments: Sequence[str]) -> int:
    """Print the table, or write it into DEVELOPERS.md."""
    parser = argparse.ArgumentParser(prog="python -m tests.published.table", description=__doc__)
    parser.add_argument("--write", action="store_true", help="write it into DEVELOPERS.md")
    table = rendered(expected())
    if not parser.parse_args(arguments).write:
        print(table)
        return 0
    text = DOCUMENT.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN, 1)
    after = rest.split(END, 1)[1]
    DOCUMENT.write_text(f"{before}{BEGIN}\n{table}\n{END}{after}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
