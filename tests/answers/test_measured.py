"""Errors of answers: the first-order law against hand arithmetic and against drawing at random."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.answers.measured import Measured, propagate


def test_a_product_adds_relative_errors_in_square() -> None:
    # GUM 5.1.6: for y = c x1^p1 x2^p2, (u(y)/y)^2 = sum (p_i u(x_i)/x_i)^2
    inputs = {"a": Measured(10.0, 0.3), "b": Measured(4.0, 0.16), "c": Measured(2.0)}
    found, shares = propagate(lambda v: v["a"] * v["b"] ** 2 / v["c"], inputs)
    assert found.value == 80.0
    assert found.within == pytest.approx(80.0 * math.hypot(0.03, 2 * 0.04), rel=1e-6)
    assert shares == pytest.approx({"a": 9 / 73, "b": 64 / 73}, rel=1e-5)


def test_a_difference_adds_errors_in_square() -> None:
    found, _ = propagate(lambda v: v["a"] - v["b"], {"a": Measured(81.4, 1.0), "b": Measured(60.0, 1.0)})
    assert found.within == pytest.approx(math.sqrt(2.0), rel=1e-9)


def test_exact_numbers_give_an_exact_answer() -> None:
    assert propagate(lambda v: 2.0 * v["a"], {"a": Measured(3.0)}) == (Measured(6.0, 0.0), {})


def test_drawing_at_random_agrees() -> None:
    # GUM supplement 1 (JCGM 101:2008): normal, two standard deviations; 200,000 draws are good to 0.2 %
    draw = np.random.default_rng(7)
    a, b = draw.normal(5.0, 0.05, 200_000), draw.normal(12.0, 0.25, 200_000)
    found, _ = propagate(
        lambda v: v["a"] * math.sqrt(v["b"]), {"a": Measured(5.0, 0.1), "b": Measured(12.0, 0.5)}
    )
    assert found.within == pytest.approx(2.0 * (a * np.sqrt(b)).std(), rel=0.01)
