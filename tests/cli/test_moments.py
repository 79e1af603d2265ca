"""Moments and stations as typed."""

from __future__ import annotations

from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from simulator.cli.moments import moment_typed, span_typed, station_typed
from simulator.errors import DuctfloorError


class Run(dict):
    start = datetime(2031, 1, 15, 18, 30)


RUN = Run(edge=SimpleNamespace(values=np.array([0.0, 1.0, 3.0, 6.0])))


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2031-01-16 06:00", datetime(2031, 1, 16, 6)),
        (" 2031-01-16T06:00:30 ", datetime(2031, 1, 16, 6, 0, 30)),
        ("2031-01-16", datetime(2031, 1, 16)),
        ("18:30", datetime(2031, 1, 15, 18, 30)),
        ("18:29", datetime(2031, 1, 16, 18, 29)),
        ("6:00", datetime(2031, 1, 16, 6)),
        ("+0 h", datetime(2031, 1, 15, 18, 30)),
        ("+90 min", datetime(2031, 1, 15, 20)),
        ("+ 1 h 30 min", datetime(2031, 1, 15, 20)),
    ],
)
def test_moments(text, moment) -> None:
    assert moment_typed(RUN, text, "--time") == moment


@pytest.mark.parametrize("text", ["", "25:00", "6", "tomorrow", "2031-02-30", "+6", "+", "06:00Z"])
def test_no_moments(text) -> None:
    with pytest.raises(DuctfloorError, match="--time"):
        moment_typed(RUN, text, "--time")


@pytest.mark.parametrize(
    ("text", "index"),
    [("1", 0), (" 3 ", 2), ("0 m", 0), ("0.99 m", 0), ("1 m", 1), ("2.9 m", 1), ("6 m", 2), ("10 ft", 2)],
)
def test_stations(text, index) -> None:
    assert station_typed(RUN, text) == index


@pytest.mark.parametrize("text", ["", "0", "4", "-1", "6.1 m", "-1 m", "first", "2.5", "3 s"])
def test_no_stations(text) -> None:
    with pytest.raises(DuctfloorError, match="--station"):
        station_typed(RUN, text)


@pytest.mark.parametrize(
    ("begin", "end", "span"),
    [
        (None, None, (None, None)),
        ("20:00", None, (datetime(2031, 1, 15, 20), None)),
        (None, "+15 h", (None, datetime(2031, 1, 16, 9, 30))),
        ("20:00", "+15 h", (datetime(2031, 1, 15, 20), datetime(2031, 1, 16, 11))),
        ("+6 h", "+6 h", (datetime(2031, 1, 16, 0, 30), datetime(2031, 1, 16, 6, 30))),
        ("2031-01-17 18:00", "06:00", (datetime(2031, 1, 17, 18), datetime(2031, 1, 18, 6))),
        ("2031-01-17 18:00", "18:00", (datetime(2031, 1, 17, 18), datetime(2031, 1, 18, 18))),
        ("20:00", "2031-01-19", (datetime(2031, 1, 15, 20), datetime(2031, 1, 19))),
    ],
)
def test_an_end_counts_from_its_beginning(begin, end, span) -> None:
    assert span_typed(RUN, begin, end) == span


@pytest.mark.parametrize(("begin", "end", "named"), [("x", "06:00", "--from"), ("06:00", "x", "--to")])
def test_the_part_of_a_span_that_cannot_be_read_is_named(begin, end, named) -> None:
    with pytest.raises(DuctfloorError, match=named):
        span_typed(RUN, begin, end)
