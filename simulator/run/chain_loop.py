"""The time loop of a case with a heat chain: steps of the clock, cut where a rule switches.

The instant of a switch is a root of a margin that is continuous within a step: the step is taken to its end,
and if a rule has become due meanwhile, taken again with shorter lengths until the instant is known; the step
then ends there. After every jump the steps begin short and double.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.run.chain import Chain
from simulator.run.chain_sensors import measure
from simulator.run.chain_state import ChainState
from simulator.run.chain_weather import Line, line_of

if TYPE_CHECKING:
    from simulator.run.coupling import Steps
    from simulator.run.state import RunState

RESOLUTION = 100
"""A switching instant is known to this [ticks]."""
MOST_TRIALS = 40
FIRST_SHARE = 16
"""The first step after a jump is this share of a whole one."""
SHORTEST = 100
"""No step is made shorter than this [ticks] for a jump's sake."""


def take_step(
    chain: Chain, state: RunState, held: ChainState, steps: Steps, number: int, whole: int
) -> list[int]:
    """Advance through step `number` of the clock in place; return the ticks at which rules switched.

    Parameters
    ----------
    chain : Chain
    state : RunState
    held : ChainState
    steps : Steps
    number : int
    whole : int [ticks]
        Usual length of a step.
    """
    line = line_of(steps, number, state.tick, chain.coupling.reference)
    changed = []
    if "outside" in held.rules.quantities:
        # Its lines need not meet where steps do.
        held.seen = None
    while state.tick < line.end:
        if _switch(chain, state, held, line):
            changed.append(state.tick)
        settings = chain.settings(state.tick, held.rules)
        if held.settings is None or settings.same_flow != held.settings.same_flow:
            held.switched = state.tick
        end = _target(held, state.tick, line.end, whole)
        if not held.rules.rules:
            chain.step(state, held, line, end, settings, steps)
            continue
        _until_due(chain, state, held, line, end, steps)
    return changed


def _switch(chain: Chain, state: RunState, held: ChainState, line: Line) -> bool:
    """Let rules that are due change, until none is; each at most once in an instant."""
    rules = held.rules
    if not rules.rules:
        return False
    found = rules.due(state.tick, _measured(chain, state, held, line))
    rules.change(found, state.tick)
    return bool(found)


def _target(held: ChainState, tick: int, end: int, whole: int) -> int:
    """End of the next step: short after a jump, and where a held rule becomes free."""
    length = max(tick - held.switched, whole // FIRST_SHARE, SHORTEST)
    target = min(end, tick + length)
    if end - target < length // 4:
        target = end
    free = held.rules.next_free(tick)
    return target if free is None else min(target, max(free, tick + 1))


def _measured(chain: Chain, state: RunState, held: ChainState, line: Line) -> dict[str, float]:
    """Return what the rules look at, at the state's tick; looked up where it was measured before."""
    if held.seen is None or held.seen[0] != state.tick:
        outside = line.outside_at(state.tick) + chain.coupling.reference
        held.seen = state.tick, measure(chain, state, held, outside)
    return held.seen[1]


def _until_due(chain: Chain, state: RunState, held: ChainState, line: Line, end: int, steps: Steps) -> None:
    """Take the step to `end`, or to the first instant at which a rule becomes due."""
    rules = held.rules
    begin = state.tick
    settings = chain.settings(begin, rules)
    free = rules.free_from <= begin
    at_begin = rules.margins(_measured(chain, state, held, line))
    waiting = free & (at_begin <= 0.0)
    saved, kept = state.saved(), held.saved()

    def attempt(tick: int) -> float:
        if state.tick != begin:
            state.restore(saved)
            held.restore(kept)
        chain.step(state, held, line, tick, settings, steps)
        held.seen = None
        if not waiting.any():
            return -1.0
        margins = rules.margins(_measured(chain, state, held, line))
        return float(margins[waiting].max())

    after = attempt(end)
    if after <= 0.0 or end - begin <= RESOLUTION:
        return
    low, high = begin, end
    under = float(at_begin[waiting].max())
    over, last = after, end
    # The regula falsi with halving (Illinois): sure, and fast where the margin is nearly straight.
    for _ in range(MOST_TRIALS):
        if high - low <= RESOLUTION:
            break
        share = -under / (over - under) if over > under else 0.5
        guess = low + round((high - low) * min(max(share, 0.02), 0.98))
        guess = min(max(guess, low + 1), high - 1)
        value, last = attempt(guess), guess
        if value > 0.0:
            high, over, under = guess, value, under * 0.5
        else:
            low, under, over = guess, value, over * 0.5
    if last != high:
        attempt(high)


def longest_step(steps: Steps, begin: int) -> int:
    """Usual length of a step [ticks]."""
    return int(np.diff(steps.ends, prepend=begin).max())
