"""Guesses of a step and the secant of its passes, against parabolas and linear maps solved by numpy."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.run.chain_guess import WEIGHTS, Course, Relaxed


def room(seconds: float) -> float:
    """A parabola [K]."""
    return 290.0 + 3e-3 * seconds - 2e-6 * seconds**2


def mean_room(first: float, last: float) -> float:
    """Its mean, by Simpson's rule, which is exact for it."""
    return (room(first) + 4.0 * room(0.5 * (first + last)) + room(last)) / 6.0


def found(first: float, last: float) -> tuple[float, float, float, float]:
    """What a step finds whose room follows the parabola, floor and humidity a straight line."""
    middle = 0.5 * (first + last)
    return mean_room(first, last), room(last) - room(first), 285.0 + 1e-4 * middle, 0.006 + 1e-7 * middle


@pytest.fixture
def course() -> Course:
    """Two steps of different lengths behind each other."""
    first = Course().followed(0, 200_000, room(0.0), found(0.0, 200.0), goes_on=False)
    return first.followed(200_000, 500_000, room(200.0), found(200.0, 500.0), goes_on=True)


@pytest.mark.parametrize(("begin", "end"), [(500, 800), (500, 1100), (200, 500), (200, 237)])
def test_parabolas_and_lines_are_guessed_exactly(course: Course, begin: int, end: int) -> None:
    guess = course.guess(begin * 1000, end * 1000, room(begin), 0.0, 0.0, goes_on=True)
    assert guess == pytest.approx(found(begin, end), rel=1e-12, abs=1e-10)


def test_after_a_jump_things_stay_as_they_are(course: Course) -> None:
    assert course.guess(500_000, 800_000, 291.0, 286.0, 0.007, goes_on=False) == (291.0, 0.0, 286.0, 0.007)
    assert Course().guess(0, 300_000, 291.0, 286.0, 0.007, goes_on=True) == (291.0, 0.0, 286.0, 0.007)
    after = course.followed(500_000, 800_000, 291.0, (291.0, 0.0, 280.0, 0.005), goes_on=False)
    assert after.floor_slope == after.ratio_slope == 0.0


def test_a_checkpoint_keeps_a_course(course: Course) -> None:
    assert Course.of(course.numbers()) == course
    assert Course.of(Course().numbers()) == Course()


@pytest.mark.parametrize("pull", [0.3, -0.4, 0.9, -1.3])
def test_one_pull_on_all_is_solved_by_the_second_secant(pull: float) -> None:
    target = np.array([290.0, 1.5, 288.0, 0.006])
    guess = (288.0, 0.0, 287.0, 0.005)
    passes = Relaxed(guess)
    for _ in range(3):
        answer = tuple((target + pull * (np.array(guess) - target)).tolist())
        passes.doubt(answer)
        guess = passes.next(answer)
    # The share of the secant is 1 / (1 - pull); where its bounds cut it, the passes still draw nearer.
    share = min(max(1.0 / (1.0 - pull), 0.3), 1.5)
    left = abs(1.0 - share * (1.0 - pull)) ** 2 * abs(pull)
    assert np.abs(np.array(guess) - target).max() <= 2.0 * left + 1e-9


def test_doubt_is_what_the_guess_leaves_in_the_answer() -> None:
    pull, target = 0.5, np.array([290.0, 1.5, 288.0, 0.006])
    guess = (288.0, 0.0, 287.0, 0.005)
    passes = Relaxed(guess)
    for number in range(2):
        answer = tuple((target + pull * (np.array(guess) - target)).tolist())
        doubt = passes.doubt(answer)
        if number == 0:
            guess = passes.next(answer)
    error = np.abs(np.array(WEIGHTS) * (np.array(answer) - target)).max()
    assert doubt == pytest.approx(error, rel=1e-6)


def test_values_that_are_no_numbers_are_doubted() -> None:
    assert np.isnan(Relaxed((290.0, 0.0, 290.0, 0.0)).doubt((np.nan, 0.0, 290.0, 0.0)))
