"""Moments and stations as typed."""

from __future__ import annotations

from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from simulator.cli.moments import moment_typed, station_typed
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
