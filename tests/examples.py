"""How many examples a property test draws: the same few every time, ten times as many in a search."""

from __future__ import annotations

from hypothesis import settings

USUAL = 100
FACTORS = {"search": 10.0, "few": 0.1}


def register() -> None:
    """Make the profiles known and begin with "same"; `--hypothesis-profile` chooses "search" or "few".

    No deadline for one example: the first call of a compiled function compiles it.
    """
    settings.register_profile("same", derandomize=True, database=None, deadline=None, max_examples=USUAL)
    for name, factor in FACTORS.items():
        settings.register_profile(
            name,
            settings.get_profile("same" if name == "few" else "default"),
            deadline=None,
            max_examples=round(USUAL * factor),
        )
    # A tool that drives the tests may have brought its own.
    if settings.get_current_profile_name() in {"default", "ci"}:
        settings.load_profile("same")


def examples(count: int) -> int:
    """`count`, by the factor of the profile; for `max_examples` in a test's own settings."""
    return max(1, round(count * settings().max_examples / USUAL))
