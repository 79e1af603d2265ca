"""Which night is meant."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as some

from simulator.answers.window import Window, choose_window, nights_of
from simulator.errors import CaseError

HOUR = dt.timedelta(hours=1)


def at(day, hour, minute=0):
    return dt.datetime(2024, 1, day, hour, minute)


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        (at(10, 12), at(11, 12), [(at(10, 18), at(11, 9))]),
        (at(10, 20), at(11, 9), [(at(10, 20), at(11, 9))]),
        (at(10, 18), at(11, 6), [(at(10, 18), at(11, 6))]),
        (at(10, 0), at(10, 9), [(at(10, 0), at(10, 9))]),
        (at(10, 8), at(10, 17), []),
        (at(10, 8), at(11, 1), []),
        (at(10, 8), at(11, 1, 30), [(at(10, 18), at(11, 1, 30))]),
        (at(10, 0), at(13, 0), [(at(10, 0), at(10, 9)), (at(10, 18), at(11, 9)), (at(11, 18), at(12, 9))]),
    ],
)
def test_nights_by_hand(start, end, expected):
    assert nights_of(start, end) == expected


@given(some.datetimes(at(1, 0), at(20, 0)), some.timedeltas(dt.timedelta(0), dt.timedelta(days=9)))
def test_nights_lie_in_the_run_and_in_the_dark_hours(start, length):
    end = start + length
    nights = nights_of(start, end)
    for begin, morning in nights:
        assert start <= begin < morning <= end
        assert begin.hour >= 18 or begin.hour < 9
        assert morning - begin <= 15 * HOUR
    assert all(one[1] < other[0] for one, other in itertools.pairwise(nights))
    # every 18:00 followed by a whole night within the run is one of them
    whole = [
        start.replace(hour=18, minute=0, second=0, microsecond=0) + dt.timedelta(days=day)
        for day in range(10)
    ]
    for evening in whole:
        if evening >= start and evening + 15 * HOUR <= end:
            assert (evening, evening + 15 * HOUR) in nights


def test_the_last_night_unless_asked_otherwise():
    start, end = at(10, 12), at(13, 12)
    assert choose_window(start, end) == Window(at(12, 18), at(13, 9), 3, 3)
    assert choose_window(start, end, night=1) == Window(at(10, 18), at(11, 9), 1, 3)
    assert choose_window(start, end, night=-2) == Window(at(11, 18), at(12, 9), 2, 3)
    assert (
        choose_window(start, end, night=3).describe() == "2024-01-12 18:00 to 2024-01-13 09:00 (night 3 of 3)"
    )
    assert choose_window(at(10, 8), at(10, 12)) == Window(at(10, 8), at(10, 12))
    assert choose_window(start, end, begin_at=at(11, 2)) == Window(at(11, 2), end, None, 3)
    assert choose_window(start, end, end_at=at(11, 2)).hours == 14.0


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"night": 4}, "night = 4: the run has no such night; allowed: 1 to 3"),
        ({"night": 0}, "night = 0: the run has no such night"),
        ({"night": -4}, "night = -4: the run has no such night"),
        ({"night": 1, "end_at": at(11, 2)}, "a night and a begin or end are given"),
        (
            {"begin_at": at(10, 11, 59)},
            'begin = "2024-01-10 11:59": is outside the run; allowed: 2024-01-10 12:00',
        ),
        ({"end_at": at(14, 0)}, 'end = "2024-01-14 00:00": is outside the run'),
        ({"begin_at": at(11, 0), "end_at": at(11, 0)}, "must be after the begin, 2024-01-11 00:00"),
        ({"begin_at": at(11, 0).replace(tzinfo=dt.UTC)}, "has a time zone; give the local time alone"),
    ],
)
def test_what_the_run_does_not_hold(asked, words):
    with pytest.raises(CaseError) as raised:
        choose_window(at(10, 12), at(13, 12), **asked)
    assert words in str(raised.value)


def test_no_night_to_choose_from():
    with pytest.raises(CaseError, match="none, the run holds no night"):
        choose_window(at(10, 10), at(10, 15), night=1)
