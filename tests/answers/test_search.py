"""The search against looking at every design."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.search import Found, Search


def searched(
    numbers: np.ndarray, costs: np.ndarray, margins: np.ndarray, most_runs: int = 1000, **options
) -> Found:
    places = np.column_stack([np.unique(column, return_inverse=True)[1] for column in numbers.T])
    return Search(places, numbers, costs, lambda place: margins[place], **options).run(most_runs)


def brute_force(costs: np.ndarray, margins: np.ndarray) -> int | None:
    good = np.flatnonzero((margins >= 0.0).all(axis=1))
    return int(good[np.argmin(np.round(costs[good], 9))]) if good.size else None


def grid(*columns: np.ndarray) -> np.ndarray:
    return np.stack(np.meshgrid(*columns, indexing="ij"), axis=-1).reshape(-1, len(columns))


@pytest.mark.parametrize("seed", range(25))
def test_two_keys_in_a_tenth_of_the_runs(seed: int) -> None:
    """Ducts and their length; two needs that rise with both and one that asks for short ducts."""
    random = np.random.default_rng(seed)
    numbers = grid(np.arange(2.0, 10.0), np.linspace(3.0, 15.0, 25))
    count, length = numbers.T
    powers = random.uniform(0.3, 1.0, 4)
    taken = 1.0 - np.exp(-(count ** powers[0]) * length ** powers[1] / 12.0)
    warmth = count ** powers[2] * length ** powers[3]
    pressure = length / count ** random.uniform(0.0, 1.0)
    margins = np.column_stack(
        (
            taken - np.quantile(taken, random.uniform(0.3, 0.95)),
            warmth - np.quantile(warmth, random.uniform(0.2, 0.7)),
            np.quantile(pressure, random.uniform(0.5, 1.0)) - pressure,
        )
    )
    costs = count * length
    found = searched(numbers, costs, margins)
    assert found.best == brute_force(costs, margins)
    assert found.proven
    assert not found.crossed
    assert len(found.margins) <= len(costs) / 10


@pytest.mark.parametrize("seed", range(10))
def test_one_key_in_a_few_runs(seed: int) -> None:
    random = np.random.default_rng(seed)
    length = np.linspace(3.0, 33.0, 100)
    margins = (1.0 - np.exp(-length / random.uniform(3.0, 20.0)) - random.uniform(0.2, 1.1))[:, None]
    found = searched(length[:, None], length.copy(), margins)
    assert found.best == brute_force(length, margins)
    assert found.proven
    assert len(found.margins) <= 10


def test_three_keys() -> None:
    numbers = grid(np.arange(2.0, 9.0), np.linspace(3.0, 12.0, 10), np.linspace(0.1, 0.4, 6))
    count, length, flow = numbers.T
    warm = flow**0.5 * (1.0 - np.exp(-0.05 * count * length / flow**0.3))
    margins = np.column_stack((warm - np.quantile(warm, 0.6), 60.0 * flow - 2.0 * count))
    costs = 4.0 * count * length + 80.0 * flow
    found = searched(numbers, costs, margins)
    assert found.best == brute_force(costs, margins)
    assert found.proven
    assert len(found.margins) <= len(costs) / 10


@pytest.mark.parametrize("seed", range(8))
def test_a_need_with_a_hump_is_noticed(seed: int) -> None:
    """A need that first rises and then falls with a key is no longer taken to be one-way."""
    random = np.random.default_rng(seed)
    x = np.arange(1.0, 41.0)
    margins = (1.0 - ((x - random.uniform(12.0, 28.0)) / random.uniform(3.0, 9.0)) ** 2)[:, None]
    found = searched(x[:, None], x.copy(), margins)
    assert found.crossed == {(0, 0)}
    assert found.best == brute_force(x, margins)
    assert found.proven


def test_nothing_meets_the_needs() -> None:
    x = np.arange(1.0, 101.0)
    found = searched(x[:, None], x.copy(), (x - 200.0)[:, None])
    assert found.best is None
    assert found.proven
    assert len(found.margins) <= 10


def test_runs_that_fail_are_passed_over() -> None:
    numbers = grid(np.arange(1.0, 6.0), np.arange(1.0, 6.0))
    costs = numbers.sum(axis=1)
    margins = (numbers.prod(axis=1) - 6.0)[:, None]
    places = (numbers - 1.0).astype(np.int64)
    failing = set(np.flatnonzero(numbers[:, 0] == 2.0).tolist())
    found = Search(places, numbers, costs, lambda place: None if place in failing else margins[place]).run(
        100
    )
    margins[list(failing)] = -1.0
    assert found.best == brute_force(costs, margins)


def test_words_are_in_no_order() -> None:
    numbers = grid(np.arange(3.0), np.arange(1.0, 30.0))
    kind, length = numbers.T
    margins = (length * np.array([1.0, 0.2, 2.0])[kind.astype(int)] - 12.0)[:, None]
    costs = length + 0.1 * kind
    found = searched(numbers, costs, margins, ordered=np.array([False, True]))
    assert found.best == brute_force(costs, margins)
    assert found.proven


def test_stopped_early_it_does_not_claim_to_have_proven() -> None:
    x = np.arange(1.0, 101.0)
    found = searched(x[:, None], x.copy(), (x - 50.3)[:, None], most_runs=3)
    assert len(found.margins) == 3
    assert not found.proven
