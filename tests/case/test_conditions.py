"""Conditions in words: against Python's own evaluation of the same sentence, and the messages."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.case.conditions import QUANTITIES, Comparison, Condition, parse_condition
from simulator.errors import CaseError

ZERO = 273.15


def message(text: object) -> str:
    with pytest.raises(CaseError) as caught:
        parse_condition(text)
    return str(caught.value)


def test_a_rule_with_all_that_the_grammar_has() -> None:
    said = "supply above floor by 5 K or room below 46.4 degF and tank top above tank bottom"
    found = parse_condition(said)
    assert found.any_of == (
        (Comparison("supply", True, "floor", 5.0),),
        (
            Comparison("room", False, None, pytest.approx(ZERO + 8.0)),
            Comparison("tank top", True, "tank bottom", 0.0),
        ),
    )
    assert found.quantities == ("room", "floor", "supply", "tank top", "tank bottom")


def test_a_difference_in_fahrenheit_is_one() -> None:
    """A step of 9 degF is 5 K (definition of the Fahrenheit scale)."""
    (group,) = parse_condition("exit below duct wall by 9 degF").any_of
    assert group == (Comparison("exit", False, "duct wall", pytest.approx(-5.0)),)


@pytest.mark.parametrize(
    "said",
    [
        "room below 8 degC",
        "  Room   BELOW 8degC ",
        "the room is below 8 °C",
        "room temperature below 281.15 K",
        "ROOM Below 46.4 F",
    ],
)
def test_case_blanks_and_small_words_do_not_count(said: str) -> None:
    assert parse_condition(said).any_of == ((Comparison("room", False, None, pytest.approx(ZERO + 8.0)),),)


def test_below_freezing() -> None:
    assert parse_condition("outside below -3 degC").any_of[0][0].value == pytest.approx(ZERO - 3.0)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("roof below 8 degC", '"roof" is no quantity known here; allowed: room, floor, coldest floor'),
        ("rom below 8 degC", "did you mean 'room'?"),
        ("coldest flor below 8 degC", "did you mean 'coldest floor'?"),
        ("room under 8 degC", 'says neither above nor below; write below instead of "under"'),
        ("room > 8 degC", 'write above instead of ">"'),
        ("room abov 8 degC", 'write above instead of "abov"'),
        ("room 8 degC", '"room 8 degC" says neither above nor below; write it like'),
        ("room above 8 degC below 3 degC", 'says above and below; join two parts by "and"'),
        ("room below 8", '"8" has no unit'),
        ("room below 8 ft", "'ft' is a unit of length, but a temperature is needed"),
        ("room below -300 degC", '"-300 degC" is below absolute zero'),
        ("supply above floor by", '"by" without a difference'),
        ("supply above floor by 5", '"5" has no unit'),
        ("supply above floor by -5 K", "has a difference below 0; turn above into below"),
        ("supply above by 5 K", '"by" has no quantity before it'),
        ("supply above floor 5 K", '"floor 5 K" is no quantity known here'),
        ("supply above supply", "compares supply with itself"),
        ("above 8 degC", 'nothing stands before "above"'),
        ("room above", 'nothing stands after "above"'),
        ("room above 8 degC or", 'has nothing on one side of "or"'),
        ("and room above 8 degC", 'has nothing on one side of "and"'),
        ("(room above 8 degC)", '"(room" is no quantity known here'),
        ("", "is empty"),
        ("the", "is empty"),
        (8, "must be text in quotes"),
        ("room above 8 degC or " * 60 + "room above 8 degC", "is too long"),
        ("tank above 1 K or " * 27 + "room above 1 K", None),
    ],
)
def test_messages(said: object, told: str | None) -> None:
    if told is None:
        assert len(parse_condition(said).any_of) == 28
    else:
        assert told in message(said)


NAMES = st.sampled_from(QUANTITIES)
NUMBERS = st.integers(-40, 140).map(float)
COMPARISONS = st.one_of(
    st.tuples(NAMES, st.booleans(), st.none(), NUMBERS),
    st.tuples(NAMES, st.booleans(), NAMES, st.integers(0, 60).map(float)).filter(lambda t: t[0] != t[2]),
)
TEMPERATURES = st.fixed_dictionaries({name: st.floats(200.0, 500.0) for name in QUANTITIES})


def words(parts: list[list[tuple[str, bool, str | None, float]]]) -> str:
    def one(part: tuple[str, bool, str | None, float]) -> str:
        name, above, other, value = part
        side = "above" if above else "below"
        return f"{name} {side} {value} degC" if other is None else f"{name} {side} {other} by {value} K"

    return " or ".join(" and ".join(one(part) for part in group) for group in parts)


def python_of(text: str) -> str:
    """Turn a sentence into an expression of Python by replacing words: an independent reading."""
    text = re.sub(r"(-?[\d.]+) degC", r"(\1 + 273.15)", text)
    for name in sorted(QUANTITIES, key=len, reverse=True):
        text = re.sub(rf"(?<![\w'])({name})(?![\w'])", lambda found: f"t['{found[1]}']", text)
    text = re.sub(r"above (t\[[^]]*\]) by ([\d.]+) K", r"> \1 + \2", text)
    text = re.sub(r"below (t\[[^]]*\]) by ([\d.]+) K", r"< \1 - \2", text)
    return text.replace("above", ">").replace("below", "<")


@given(st.lists(st.lists(COMPARISONS, min_size=1, max_size=3), min_size=1, max_size=3), TEMPERATURES)
def test_means_what_python_makes_of_the_same_words(
    parts: list[list[tuple[str, bool, str | None, float]]], temperatures: dict[str, float]
) -> None:
    said = words(parts)
    wanted = eval(python_of(said), {"__builtins__": {}}, {"t": temperatures})
    assert parse_condition(said).holds(temperatures) is wanted


@given(st.lists(st.lists(COMPARISONS, min_size=1, max_size=3), min_size=1, max_size=3))
def test_written_anew_it_is_the_same(parts: list[list[tuple[str, bool, str | None, float]]]) -> None:
    found = parse_condition(words(parts))
    bare = Condition(found.any_of)
    again = parse_condition(str(bare))
    for group, other in zip(found.any_of, again.any_of, strict=True):
        for one, two in zip(group, other, strict=True):
            assert (one.quantity, one.above, one.other) == (two.quantity, two.above, two.other)
            assert one.value == pytest.approx(two.value, abs=2e-4)


@given(
    st.lists(st.lists(COMPARISONS, min_size=1, max_size=2), min_size=1, max_size=2),
    TEMPERATURES,
    st.floats(0.0, 20.0),
)
def test_eased_by_a_margin(
    parts: list[list[tuple[str, bool, str | None, float]]], temperatures: dict[str, float], margin: float
) -> None:
    """What holds also holds eased, and what holds eased is at most the margin away from holding."""
    found = parse_condition(words(parts))
    eased = found.eased(margin)
    if found.holds(temperatures):
        assert margin == 0.0 or eased.holds(temperatures)
    if eased.holds(temperatures):
        least = -margin - 1e-9
        assert any(all(each.excess(temperatures) > least for each in group) for group in found.any_of)


@given(st.one_of(st.text(), st.lists(st.sampled_from(
    [*QUANTITIES, "above", "below", "by", "and", "or", "the", "8 degC", "-3 F", "5 K", ">", "(", "1e999 K"]
)).map(" ".join)))  # fmt: skip
def test_any_text_is_read_or_explained(text: str) -> None:
    try:
        found = parse_condition(text)
    except CaseError as error:
        told = error
    else:
        assert found.quantities
        assert all(name in QUANTITIES for name in found.quantities)
        return
    assert told.problem
    assert "\n" not in str(told)
