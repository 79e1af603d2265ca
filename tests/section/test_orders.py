"""The judge of orders is judged: errors of known order pass or fail as they must."""

from __future__ import annotations

import pytest

from tests.section.orders import assert_order, observed_order

SIZES = (1.0, 0.5, 0.25)


@pytest.mark.parametrize("order", [0.5, 1.0, 2.0, 3.0])
def test_slope_of_a_pure_power_is_its_exponent(order: float) -> None:
    assert observed_order(SIZES, [7.0 * size**order for size in SIZES]) == pytest.approx(order, abs=1e-12)


@pytest.mark.parametrize("order", [1.0, 3.0])
def test_orders_too_low_and_too_high_fail(order: float) -> None:
    with pytest.raises(AssertionError, match="outside"):
        assert_order(SIZES, [size**order for size in SIZES], (1.7, 2.4), 1.0)


def test_right_order_with_too_large_an_error_fails() -> None:
    with pytest.raises(AssertionError, match="above"):
        assert_order(SIZES, [100.0 * size**2 for size in SIZES], (1.7, 2.4), 1.0)
