"""What a step of one length does to a section in modal form, made ready once for every length that comes up.

Both stages of the scheme are linear in state and loads, so a whole step is one pass over the modes:

    what ports read after stage 1 = look_1 @ x
    what ports read after stage 2 = look_2 @ x + cross @ loads_1
    x after the step              = keep * x + push_1 @ loads_1 + push_2 @ loads_2

Only the lanes' heat differs from station to station; floor, outside, bottom and sides (the last four ports)
have one load for all of them, and only their readings summed over the stations count.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simulator.kernel import kernel

COMMON = 4
"""Ports behind the lanes: floor, outside, bottom, sides."""
SLOTS = 24
"""Step lengths remembered; a switch divides one step in five, so a run with a timetable needs some ten."""


class StepTables(NamedTuple):
    """Tables of K step lengths, R modes, P ports, M lanes; H pairs of lanes.

    `lengths` (K,) [s], 0 where empty; `newest` (1,) slot filled last; `keep` (K, R); `lane_push`
    (K, H, 4, R): both lanes of a pair in stage 1, then both in stage 2; `common_push` (K, 2 COMMON, R);
    `lane_look` (K, R, 2 M); `common_look` (K, 2 COMMON, R); `influence`, `cross` (K, P, P).
    """

    lengths: np.ndarray
    newest: np.ndarray
    keep: np.ndarray
    lane_push: np.ndarray
    common_push: np.ndarray
    lane_look: np.ndarray
    common_look: np.ndarray
    influence: np.ndarray
    cross: np.ndarray


def empty_tables(modes: int, lanes: int) -> StepTables:
    """Tables with nothing in them."""
    ports, pairs = lanes + COMMON, (lanes + 1) // 2
    return StepTables(
        lengths=np.zeros(SLOTS),
        newest=np.zeros(1, dtype=np.int64),
        keep=np.zeros((SLOTS, modes)),
        lane_push=np.zeros((SLOTS, pairs, 4, modes)),
        common_push=np.zeros((SLOTS, 2 * COMMON, modes)),
        lane_look=np.zeros((SLOTS, modes, 2 * lanes)),
        common_look=np.zeros((SLOTS, 2 * COMMON, modes)),
        influence=np.zeros((SLOTS, ports, ports)),
        cross=np.zeros((SLOTS, ports, ports)),
    )


@kernel
def slot_of(
    tables: StepTables,
    length: float,
    gamma: float,
    rates: np.ndarray,
    injection: np.ndarray,
    reading: np.ndarray,
) -> int:
    """Slot of a step length [s], filled if it is new; the oldest makes room.

    `rates` (R,), `injection` and `reading` (R, P) are the section in modal form.
    """
    for slot in range(tables.lengths.size):
        if tables.lengths[slot] == length:
            return slot
    slot = int((tables.newest[0] + 1) % tables.lengths.size)
    tables.newest[0] = slot
    tables.lengths[slot] = length
    modes, ports = injection.shape
    lanes = ports - COMMON
    tau = gamma * length
    share = (1.0 - gamma) / gamma
    influence, cross = tables.influence[slot], tables.cross[slot]
    influence[:] = 0.0
    cross[:] = 0.0
    push = np.empty(ports)
    for mode in range(modes):
        decay = 1.0 / (1.0 + tau * rates[mode])
        middle = 1.0 + share * (decay - 1.0)
        tables.keep[slot, mode] = decay * middle
        for port in range(ports):
            push[port] = injection[mode, port] * (tau * decay)
        for port in range(ports):
            look = reading[mode, port] * decay
            for other in range(ports):
                influence[port, other] += reading[mode, port] * push[other]
                cross[port, other] += share * look * push[other]
            if port < lanes:
                tables.lane_push[slot, port // 2, port % 2, mode] = share * decay * push[port]
                tables.lane_push[slot, port // 2, 2 + port % 2, mode] = push[port]
                tables.lane_look[slot, mode, port] = look
                tables.lane_look[slot, mode, lanes + port] = look * middle
            else:
                tables.common_push[slot, port - lanes, mode] = share * decay * push[port]
                tables.common_push[slot, COMMON + port - lanes, mode] = push[port]
                tables.common_look[slot, port - lanes, mode] = look
                tables.common_look[slot, COMMON + port - lanes, mode] = look * middle
    return slot


@kernel
def total_of(state: np.ndarray, weight: np.ndarray, total: np.ndarray) -> None:
    """Fill `total` (R,) with the sum of the stations' states (S, R), each times its `weight` (S,)."""
    for mode in range(total.size):
        total[mode] = 0.0
    # Four stations at once: `total` is then read and written a quarter as often.
    fours = 4 * (weight.size // 4)
    for first in range(0, fours, 4):
        s_0, s_1, s_2, s_3 = state[first], state[first + 1], state[first + 2], state[first + 3]
        w_0, w_1, w_2, w_3 = weight[first], weight[first + 1], weight[first + 2], weight[first + 3]
        for mode in range(total.size):
            total[mode] += w_0 * s_0[mode] + w_1 * s_1[mode] + w_2 * s_2[mode] + w_3 * s_3[mode]
    for station in range(fours, weight.size):
        here = state[station]
        factor = weight[station]
        for mode in range(total.size):
            total[mode] += factor * here[mode]


@kernel
def push_state(
    state: np.ndarray,
    keep: np.ndarray,
    lane_push: np.ndarray,
    flows: np.ndarray,
    common_push: np.ndarray,
    common: np.ndarray,
    shift: np.ndarray,
) -> None:
    """Advance `state` (S, R) by one step.

    `flows` (H, 4, S) is the heat of the lanes in the order of `lane_push`, `common` (2 COMMON,) the loads
    that all stations share; `shift` (R,) is room to work in.
    """
    c0, c1, c2, c3, c4, c5, c6, c7 = common
    p0, p1, p2, p3 = common_push[0], common_push[1], common_push[2], common_push[3]
    p4, p5, p6, p7 = common_push[4], common_push[5], common_push[6], common_push[7]
    for mode in range(shift.size):
        shift[mode] = (
            p0[mode] * c0 + p1[mode] * c1 + p2[mode] * c2 + p3[mode] * c3
            + p4[mode] * c4 + p5[mode] * c5 + p6[mode] * c6 + p7[mode] * c7
        )  # fmt: skip
    for station in range(state.shape[0]):
        here = state[station]
        p0, p1, p2, p3 = lane_push[0, 0], lane_push[0, 1], lane_push[0, 2], lane_push[0, 3]
        q0, q1 = flows[0, 0, station], flows[0, 1, station]
        q2, q3 = flows[0, 2, station], flows[0, 3, station]
        for mode in range(shift.size):
            here[mode] = (
                keep[mode] * here[mode] + shift[mode]
                + p0[mode] * q0 + p1[mode] * q1 + p2[mode] * q2 + p3[mode] * q3
            )  # fmt: skip
        for pair in range(1, lane_push.shape[0]):
            p0, p1, p2, p3 = (
                lane_push[pair, 0], lane_push[pair, 1], lane_push[pair, 2], lane_push[pair, 3]
            )  # fmt: skip
            q0, q1 = flows[pair, 0, station], flows[pair, 1, station]
            q2, q3 = flows[pair, 2, station], flows[pair, 3, station]
            for mode in range(shift.size):
                here[mode] += p0[mode] * q0 + p1[mode] * q1 + p2[mode] * q2 + p3[mode] * q3
