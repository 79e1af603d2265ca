"""Tables written as TOML, read back by the standard library's reader."""

from __future__ import annotations

import datetime as dt
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.case.toml_text import toml_text, toml_value

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
PLAIN = st.one_of(
    st.booleans(), st.integers(-(2**53), 2**53), st.floats(allow_nan=False), TEXTS,
    st.datetimes(dt.datetime(1900, 1, 1), dt.datetime(2200, 1, 1)).map(lambda at: at.replace(microsecond=0)),
    st.times().map(lambda at: at.replace(microsecond=0)),
)  # fmt: skip
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3), max_leaves=8
)


@given(st.dictionaries(TEXTS, VALUES, max_size=5))
def test_what_is_written_reads_back(data: dict) -> None:
    assert tomllib.loads(toml_text(data)) == data


def test_a_case_reads_as_people_write_it() -> None:
    data = {"title": "A", "ducts": {"count": 2, "lanes": [{"across": "1 m"}, {"across": "2 m"}]}}
    assert toml_text(data) == (
        'title = "A"\n\n[ducts]\ncount = 2\nlanes = [\n    { across = "1 m" },\n    { across = "2 m" },\n]\n'
    )


def test_what_toml_lacks_is_refused() -> None:
    with pytest.raises(TypeError, match="no value of type set"):
        toml_value({1})
