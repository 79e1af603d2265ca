"""How many examples a property test draws: the same few every time, or ten times as many in a search."""

from __future__ import annotations

from hypothesis import settings

SEARCH_FACTOR = 10


def register() -> None:
    """Make the two profiles known and begin with "same"; `--hypothesis-profile=search` chooses the other.

    No deadline for one example: the first call of a compiled function compiles it.
    """
    settings.register_profile("same", derandomize=True, database=None, deadline=None)
    settings.register_profile(
        "search",
        derandomize=False,
        deadline=None,
        print_blob=True,
        max_examples=SEARCH_FACTOR * settings.get_profile("same").max_examples,
    )
    # A tool that drives the tests may have brought its own.
    if settings.get_current_profile_name() in {"default", "ci"}:
        settings.load_profile("same")


def examples(count: int) -> int:
    """`count`, or ten times as many while searching; for `max_examples` in a test's own settings."""
    return count if settings().derandomize else SEARCH_FACTOR * count
