"""Property tests draw the same examples every time, so that a run of the suite does not fail by luck."""

from __future__ import annotations

import pytest
from hypothesis import is_hypothesis_test, settings

from tests.examples import examples


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


@pytest.mark.parametrize(("profile", "count"), [("same", 30), ("search", 300), ("few", 3)])
def test_a_profile_changes_how_many_are_drawn(profile: str, count: int) -> None:
    before = settings.get_current_profile_name()
    try:
        settings.load_profile(profile)
        assert examples(30) == count
        assert settings().max_examples == round(count / 0.3)
        assert settings().derandomize == (profile != "search")
        assert settings(max_examples=5).deadline is None
    finally:
        settings.load_profile(before)
