"""The table of answers in README.md is what the cases give.

`python -m tests.test_readme` rewrites the table. This compares the page with the program, not the program
with the world: that is the business of the other tests.
"""

from __future__ import annotations

from pathlib import Path

import simulator
from simulator.answers.overnight import overnight
from simulator.case.units import show

ROOT = Path(__file__).parent.parent
BEGIN, END = "<!-- answers: begin -->", "<!-- answers: end -->"
QUESTIONS = {
    "fan left on overnight": ("overnight", "overnight-fan-off"),
    "longer duct run": ("duct-short", "duct-long-equal-flow", "duct-long"),
    "flue run under the floor": ("flue-run",),
    "cold or saturated floor": ("firing-cold-floor", "firing-saturated-floor"),
}
HEAD = (
    "| question | case | room at the end | floor at the end | exit air at the end | into the ground | kept |",
    "| --- | --- | --- | --- | --- | --- | --- |",
)


def _row(question: str, name: str) -> str:
    case = simulator.load(ROOT / "cases" / f"{name}.toml")
    units = case.output.units
    answer = overnight(simulator.run(case))

    def temperature(place: str) -> str:
        value = answer.at_end[place]
        return "no flow" if value is None else show(value + 273.15, "temperature", units)

    def energy(joules: float) -> str:
        # Three digits: what a reader needs, and the same on every machine.
        unit = 1055.05585262 if units == "US" else 3.6e6
        return show(float(f"{joules / unit:.3g}") * unit, "energy", units)

    account = answer.heat if answer.heat.put_in > 0.0 else answer.heat_of_run
    cells = [
        question,
        f"`{name}.toml`",
        temperature("room"),
        temperature("floor_mean"),
        temperature("exit_air"),
        f"{energy(account.put_into_ground)} of {energy(account.put_in)}",
        f"{100.0 * account.fraction_kept:.0f} %",
    ]
    return "| " + " | ".join(cells) + " |"


def table() -> str:
    """The table as it should stand in README.md."""
    rows = [_row(question, name) for question, names in QUESTIONS.items() for name in names]
    return "\n".join([BEGIN, *HEAD, *rows, END])


def test_the_answers_in_the_readme_are_those_of_the_cases():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text[text.index(BEGIN) : text.index(END) + len(END)] == table()


if __name__ == "__main__":
    page = ROOT / "README.md"
    text = page.read_text(encoding="utf-8")
    page.write_text(
        text[: text.index(BEGIN)] + table() + text[text.index(END) + len(END) :], encoding="utf-8"
    )
