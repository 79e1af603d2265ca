"""What a spot check found, taken from a keeper: the same modes need no second one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.section.keeper import digest_of, taken_or_made
from simulator.section.kept_reduction import numbers_of
from simulator.section.spot_check import SpotCheck, spot_check

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.reduced import ReducedSection

__all__ = ["kept_spot_check"]


def kept_spot_check(keeper: Keeper | None, section: ReducedSection, periods: tuple[float, ...]) -> SpotCheck:
    """Take what `spot_check` finds from `keeper`, or carry it out and hand that over.

    It is looked up under the very numbers of modes and mesh, not under what they were made from: modes that
    were spoilt on the way are checked anew.
    """
    reduction = section.reduction

    def read(kept: Arrays) -> SpotCheck | None:
        if kept.keys() != {"difference"} or kept["difference"].shape != ():
            return None
        difference = float(kept["difference"])
        return SpotCheck(periods, difference) if difference >= 0.0 else None

    return taken_or_made(
        keeper,
        lambda: digest_of(periods, reduction.modes, reduction.rates, *numbers_of(section.operators)),
        read,
        lambda: spot_check(section, periods),
        lambda checked: {"difference": checked.difference},
    )
