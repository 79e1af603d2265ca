"""Heat passed between two streams in a coil, as compiled scalar functions.

The effectiveness is the heat passed over the most that could be passed, which is the smaller capacity flow
times the difference of the two inlet temperatures.

Sources
-------
[1] W. M. Kays and A. L. London, Compact Heat Exchangers, 3rd ed. (1984), chapter 2: effectiveness by number
    of transfer units and ratio of capacity flows.
[2] J. L. Mason, Proceedings of the 2nd US National Congress of Applied Mechanics (1955) 801-803: series for
    cross flow with both streams unmixed (from memory).
[3] W. M. Kays and A. L. London, as [1], chapters 7 and 10: finned coils, film rising with the 0.6th power of
    the flow of air, j ~ Re^-0.4 (from memory).
[4] F. W. Dittus and L. M. K. Boelter (1930): turbulent flow in tubes, film rising with the 0.8th power.
"""

from __future__ import annotations

import math

from simulator.kernel import kernel

COUNTER_FLOW = 0
PARALLEL_FLOW = 1
CROSS_FLOW = 2
CROSS_FLOW_AIR_MIXED = 3
CROSS_FLOW_WATER_MIXED = 4
MOST_UNITS = 500.0
"""Largest number of transfer units that is told apart [-]."""
AIR_EXPONENT = 0.6
"""Power of the air flow with which the film outside of the tubes rises [-] [3]."""
WATER_EXPONENT = 0.8
"""Power of the water flow with which the film in the tubes rises [-] [4]."""
LEAST_WATER_SHARE = 0.05
"""Share of the rated water flow [-] under which free convection holds the tubes' film: ours, no source."""


@kernel
def counter_flow(units: float, ratio: float) -> float:
    """Effectiveness [-] of counter flow [1]: (1 - E) / (1 - ratio E), E = exp(-units (1 - ratio))."""
    gap = 1.0 - ratio
    if gap * max(units, 1.0) < 1e-9:
        return units / (1.0 + units)
    fall = -math.expm1(-units * gap)
    return fall / (fall + gap * (1.0 - fall))


@kernel
def parallel_flow(units: float, ratio: float) -> float:
    """Effectiveness [-] of parallel flow [1]: (1 - exp(-units (1 + ratio))) / (1 + ratio)."""
    return -math.expm1(-units * (1.0 + ratio)) / (1.0 + ratio)


@kernel
def cross_flow_unmixed(units: float, ratio: float) -> float:
    """Effectiveness [-] of cross flow with both streams unmixed, exact [2].

    1/(ratio units) times the sum over n from 0 of P_n(units) P_n(ratio units), where P_n(x) is the
    probability that a Poisson number of mean x exceeds n. All terms are positive; they fade once n > units.
    """
    if ratio < 1e-6:
        return -math.expm1(-units)
    if units < 1e-9:
        return units
    other = ratio * units
    first_term, second_term = math.exp(-units), math.exp(-other)
    first_tail, second_tail = -math.expm1(-units), -math.expm1(-other)
    total = first_tail * second_tail
    n = 0
    while True:
        n += 1
        first_term *= units / n
        second_term *= other / n
        first_tail -= first_term
        second_tail -= second_term
        if first_tail <= 0.0 or second_tail <= 0.0:
            break
        term = first_tail * second_tail
        total += term
        if term < 1e-16 * total:
            break
    return min(total / other, 1.0)


@kernel
def cross_flow_one_mixed(units: float, ratio: float, smaller_mixed: bool) -> float:
    """Effectiveness [-] of cross flow with one stream mixed across its way [1].

    `smaller_mixed`: whether the mixed stream is the one with the smaller capacity flow.
    """
    if ratio < 1e-9:
        return -math.expm1(-units)
    if smaller_mixed:
        return -math.expm1(math.expm1(-ratio * units) / ratio)
    return -math.expm1(ratio * math.expm1(-units)) / ratio


@kernel
def effectiveness(arrangement: int, units: float, ratio: float, air_smaller: bool) -> float:
    """Effectiveness [-] of a coil.

    `arrangement` as the constants above, `units` = conductance over the smaller capacity flow, `ratio` =
    smaller over larger capacity flow, `air_smaller`: whether the air has the smaller capacity flow.
    """
    u = min(units, MOST_UNITS)
    if arrangement == COUNTER_FLOW:
        return counter_flow(u, ratio)
    if arrangement == PARALLEL_FLOW:
        return parallel_flow(u, ratio)
    if arrangement == CROSS_FLOW:
        return cross_flow_unmixed(u, ratio)
    return cross_flow_one_mixed(u, ratio, (arrangement == CROSS_FLOW_AIR_MIXED) == air_smaller)


@kernel
def conductance_at(
    rated: float,
    air_side_share: float,
    air_flow: float,
    rated_air_flow: float,
    water_flow: float,
    rated_water_flow: float,
) -> float:
    """Conductance [W/K] of a coil at flows [kg/s] other than the rated ones.

    The resistance of each side follows its film [3, 4]; NaN for a rated flow holds that side's resistance.
    """
    air = air_side_share
    if not math.isnan(rated_air_flow):
        if air_flow <= 0.0:
            return 0.0
        air *= math.pow(air_flow / rated_air_flow, -AIR_EXPONENT)
    water = 1.0 - air_side_share
    if not math.isnan(rated_water_flow):
        water *= math.pow(max(water_flow / rated_water_flow, LEAST_WATER_SHARE), -WATER_EXPONENT)
    return rated / (air + water)
