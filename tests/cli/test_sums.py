"""`ductfloor sum`: the sums on paper from the command line."""

from __future__ import annotations

import json
import shlex

import pytest

from simulator.cli.examples import EXAMPLES

SUMS = [example for name, listed in EXAMPLES.items() if name.startswith("sum ") for example in listed]


@pytest.mark.parametrize("example", SUMS)
def test_every_example_of_the_help_is_a_sum_that_works(ductfloor, example) -> None:
    outcome = ductfloor(*shlex.split(example))
    assert outcome.code == 0, outcome.err
    assert "solved" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80


def test_the_flow_that_the_trade_knows(ductfloor) -> None:
    # about 1.4 US gal/min (common practice, no source)
    words = ("sum", "water", "--heat", "15000 BTU/h", "--from", "60 degF", "--to", "81.4 degF")
    assert "gpm" in next(line for line in ductfloor(*words).out.splitlines() if "solved" in line)
    data = json.loads(ductfloor(*words, "--json").out)
    assert data["quantities"]["volume_flow"]["value"] / (231 * 0.0254**3 / 60) == pytest.approx(1.4, abs=0.01)


@pytest.mark.parametrize(("units", "first"), [((), "degC"), (("--units", "us"), "degF")])
def test_the_units_typed_come_first_unless_others_are_asked_for(ductfloor, units, first) -> None:
    outcome = ductfloor("sum", "water", "--flow", "5 L/min", "--from", "15 degC", "--to", "27 degC", *units)
    row = next(line for line in outcome.out.splitlines() if "entering" in line)
    assert row.index(first) < row.index("(")


def test_what_is_typed_in_us_units_is_told_in_them(ductfloor) -> None:
    out = ductfloor("sum", "heat", "--rate", "15000 BTU/h", "--time", "6 h").out
    assert "90,000 BTU (26.38 kWh) - amount, solved" in out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("water", "--heat", "15000 BTU", "--from", "60 F", "--to", "81 F"),
            'error: --heat = "15000 BTU": BTU is an amount of heat, but a rate is needed here',
        ),
        (("water", "--from", "60 F", "--to", "81 F"), "2 are blank (--heat, --flow)"),
        (("air", "--flow", "300 cfm", "--from", "60 F", "--to", "90 F", "--humidity", "high"), "--humidity"),
        (("fuel", "--mass", "10 kg", "--part", "15000 BTU"), "is no named part"),
        (("share", "--part", "1 kW", "--of", "0 kW"), "must be above 0"),
        (("heat", "--rate", "5 kWh", "--time", "1 h"), "give it as --amount"),
        (("fuel", "--mass", "10 kg", "--time", "0 h"), "--time = 0.0: must be above 0"),
    ],
)  # fmt: skip
def test_slips_are_explained(ductfloor, words, told) -> None:
    outcome = ductfloor("sum", *words)
    assert (outcome.code, outcome.out) == (2, "")
    assert told in outcome.err
