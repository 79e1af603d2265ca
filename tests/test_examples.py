"""Property tests draw the same examples every time, so that a run of the suite does not fail by luck."""

from __future__ import annotations

import pytest
from hypothesis import is_hypothesis_test, settings

from tests.examples import SEARCH_FACTOR, examples


def settings_of(test: object) -> settings:
    """What a property test was decorated with; the library has no public way to ask."""
    return getattr(test, "_hypothesis_internal_use_settings", settings())


def test_every_property_test_draws_the_same_examples(request: pytest.FixtureRequest) -> None:
    if settings.get_current_profile_name() == "search":
        pytest.skip("searching for new examples")
    tests = [(item.nodeid, item.obj) for item in request.session.items if isinstance(item, pytest.Function)]
    chosen = {name: settings_of(test) for name, test in tests if is_hypothesis_test(test)}
    loose = [name for name, its in chosen.items() if not its.derandomize or its.database is not None]
    assert not loose


def test_a_search_draws_ten_times_as_many() -> None:
    before = settings.get_current_profile_name()
    try:
        settings.load_profile("same")
        assert examples(30) == 30
        usual = settings().max_examples
        settings.load_profile("search")
        assert examples(30) == 30 * SEARCH_FACTOR
        assert settings().max_examples == usual * SEARCH_FACTOR
        assert not settings().derandomize
    finally:
        settings.load_profile(before)
