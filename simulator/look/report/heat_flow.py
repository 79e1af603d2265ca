"""Where the heat went as a drawing: flows as wide as the heat they carry, through air, ground and room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from markupsafe import Markup, escape

from simulator.look.report.numbers import Number, in_both

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Flow", "flow_markup", "heat_flows"]

#: dataset, from, to, words when positive, words when it runs backward
_FLOWS: Final = (
    ("ledger_heater", "in", "air", "fire or heater", "fire or heater"),
    ("ledger_fan", "in", "air", "fan", "fan"),
    ("ledger_latent", "in", "air", "vapour settling", "vapour dried off"),
    ("ledger_flue", "in", "air", "flue run", "flue run"),
    ("ledger_duct", "air", "ground", "duct air into the ground", "ground back to duct air"),
    ("ledger_return", "air", "room", "returning air to the room", "returning air cools the room"),
    ("ledger_floor", "ground", "room", "floor to the room", "room to the floor"),
    ("ledger_sun", "in", "room", "sun", "sun"),
    ("ledger_other_gain", "in", "room", "people, equipment", "people, equipment"),
    ("ledger_bottom", "in", "ground", "deep ground, from below", "deep ground, downward"),
    ("ledger_sides", "in", "ground", "ground at the sides", "ground at the sides"),
    ("ledger_exhaust", "air", "out", "air blown outside", "air taken from outside"),
    ("ledger_envelope", "room", "out", "walls and roof", "walls and roof"),
    ("ledger_infiltration", "room", "out", "leaking air", "leaking air"),
    ("ledger_outside_ground", "ground", "out", "ground outside", "ground outside"),
    ("ledger_stored_ground", "ground", "out", "kept in the ground", "out of the ground's store"),
    ("ledger_stored_room", "room", "out", "kept in the room", "out of the room's store"),
)
_WHOLE: Final = (
    ("whole_fuel", "in", "house", "fuel", "fuel"),
    ("whole_heater", "in", "house", "other heater", "other heater"),
    ("whole_sun", "in", "house", "sun", "sun"),
    ("whole_fan", "in", "house", "fan", "fan"),
    ("whole_pump", "in", "house", "pump", "pump"),
    ("whole_gain", "in", "house", "people, equipment", "people, equipment"),
    ("whole_make_up", "in", "house", "make-up water", "make-up water, overflow"),
    ("whole_ground_ends", "in", "ground", "deep ground, from below", "deep ground, downward"),
    ("ledger_duct", "house", "ground", "duct air into the ground", "ground back to duct air"),
    ("ledger_floor", "ground", "house", "floor to the room", "room to the floor"),
    ("whole_flue_loss", "house", "out", "flue gas", "flue run"),
    ("whole_envelope", "house", "out", "walls, roof and leaks", "walls, roof and leaks"),
    ("whole_exhaust", "house", "out", "air blown outside", "air taken from outside"),
    ("whole_latent", "house", "out", "evaporation", "water settling"),
    ("whole_vented", "house", "out", "steam", "steam"),
    ("whole_outside_ground", "ground", "out", "ground outside", "ground outside"),
    ("whole_stored_ground", "ground", "out", "kept in the ground", "out of the ground's store"),
    ("whole_stored_room", "house", "out", "kept in the room", "out of the room's store"),
    ("whole_stored_stove", "house", "out", "kept in the stove", "out of the stove's store"),
    ("whole_stored_water", "house", "out", "kept in the tank", "out of the tank"),
    ("whole_stored_mass", "house", "out", "kept in masses", "out of masses"),
)
_NODES: Final = {
    "air": "Duct air",
    "house": "Fire, air and house",
    "room": "Room",
    "ground": "Floor and ground",
}
_COLOURS: Final = {
    "in": "#D55E00",
    "air": "#B5579A",
    "house": "#B5579A",
    "ground": "#0072B2",
    "room": "#008A67",
}
SMALLEST_SHARE: Final = 0.004
WIDTH, LEFT_TEXT, RIGHT_TEXT, NODE = 634.0, 172.0, 190.0, 13.0
BODY: Final = 250.0
GAP: Final = 14.0
ROW: Final = 30.0


@dataclass(frozen=True)
class Flow:
    """Heat from one place to another [J], always positive.

    `begin` and `end` are "in", "out", "air", "ground", "room" or "house".
    """

    begin: str
    end: str
    words: str
    number: Number

    @property
    def size(self) -> float:
        """Heat [J]."""
        return abs(self.number.value)


def heat_flows(ledger: Callable[[str], Number | None], *, whole: bool = False) -> list[Flow]:
    """Sort the accounts of a ledger into flows.

    Parameters
    ----------
    ledger : callable
        Gives the change of a dataset, by its name, or None when the results have none.
    whole : bool
        Whether to tell of fire, house and water as well, out of the account of the whole.

    Returns
    -------
    list of Flow
        Heat that runs against its usual way is turned round.
    """
    found = []
    for name, begin, end, forward, backward in _WHOLE if whole else _FLOWS:
        number = ledger(name)
        if number is None or number.value == 0.0:
            continue
        if number.value > 0.0:
            found.append(Flow(begin, end, forward, number))
        elif begin == "in":
            found.append(Flow(end, "out", backward, number))
        elif end == "out":
            found.append(Flow("in", begin, backward, number))
        else:
            found.append(Flow(end, begin, backward, number))
    return found


def flow_markup(flows: list[Flow], title: str) -> Markup:
    """Draw flows: what comes in on the left, what leaves or is kept on the right."""
    largest = max((flow.size for flow in flows), default=0.0)
    drawn = [flow for flow in flows if flow.size > SMALLEST_SHARE * largest]
    if not drawn:
        return Markup("<p>No heat moved.</p>")
    coming = [flow for flow in drawn if flow.begin == "in"]
    going = [flow for flow in drawn if flow.end == "out"]
    total = max(sum(flow.size for flow in coming), sum(flow.size for flow in going), largest)
    scale = BODY / total
    order = [node for node in _NODES if any(node in (flow.begin, flow.end) for flow in drawn)]
    through = {node: max(_sum(drawn, end=node), _sum(drawn, begin=node)) * scale for node in order}
    ends_left = _stack(sorted(coming, key=lambda flow: _place(order, flow.end)), scale)
    ends_right = _stack(sorted(going, key=lambda flow: _place(order, flow.begin)), scale)
    tall = max(
        sum(max(size, 26.0) for size in through.values()) + 4.0 * GAP * max(len(order) - 1, 0),
        ends_left[1], ends_right[1],
    )  # fmt: skip
    height = tall + 2.0 * GAP
    spare = (tall - sum(max(size, 26.0) for size in through.values())) / max(len(order), 1)
    columns = {"air": 0.3, "house": 0.36, "ground": 0.5 if "house" not in order else 0.62, "room": 0.68}
    body = WIDTH - LEFT_TEXT - RIGHT_TEXT
    x_of = {node: LEFT_TEXT + columns[node] * body for node in order}
    top_of: dict[str, float] = {}
    y = GAP + spare / 2.0
    for name in _NODES:
        if name in through:
            top_of[name] = y
            y += max(through[name], 26.0) + spare
    shapes, texts = [], []
    left_shift = GAP + (tall - ends_left[1]) / 2.0
    right_shift = GAP + (tall - ends_right[1]) / 2.0
    starts, stops = _ports(drawn, top_of, scale, leaving=True), _ports(drawn, top_of, scale, leaving=False)
    for flow in sorted(drawn, key=lambda flow: -flow.size):
        wide = max(flow.size * scale, 0.8)
        if flow.begin == "in":
            x0, y0 = LEFT_TEXT, ends_left[0][id(flow)] + left_shift
            texts.append(_label(flow, x0 - 8.0, y0 + wide / 2.0, "end"))
        else:
            x0, y0 = x_of[flow.begin] + NODE, starts[id(flow)]
        if flow.end == "out":
            x1, y1 = WIDTH - RIGHT_TEXT, ends_right[0][id(flow)] + right_shift
            texts.append(_label(flow, x1 + 8.0, y1 + wide / 2.0, "begin"))
        else:
            x1, y1 = x_of[flow.end], stops[id(flow)]
        shapes.append(_ribbon(flow, x0, y0, x1, y1, wide))
    for node in order:
        size = max(through[node], 3.0)
        shapes.append(
            f'<rect x="{x_of[node]:.1f}" y="{top_of[node]:.1f}" width="{NODE:.0f}" height="{size:.1f}" '
            f'fill="{_COLOURS[node]}"/>'
        )
        texts.append(
            f'<text class="node middle" x="{x_of[node] + NODE / 2.0:.1f}" y="{top_of[node] - 5.0:.1f}">'
            f"{_NODES[node]}</text>"
        )
    return Markup(
        f'<svg class="flows" viewBox="0 0 {WIDTH:.0f} {height + 8.0:.0f}" role="img" '
        f'aria-label="{escape(title)}"><title>{escape(title)}</title>{"".join(shapes)}{"".join(texts)}</svg>'
    )


def _sum(flows: list[Flow], begin: str | None = None, end: str | None = None) -> float:
    return sum(flow.size for flow in flows if begin in (None, flow.begin) and end in (None, flow.end))


def _place(order: list[str], node: str) -> int:
    drawn = [name for name in _NODES if name in order]
    return drawn.index(node) if node in drawn else len(drawn)


def _ports(flows: list[Flow], tops: dict[str, float], scale: float, *, leaving: bool) -> dict[int, float]:
    """Where each flow leaves or enters its box: in the order of the boxes it goes to or comes from."""
    rank = {"air": 0, "house": 0, "in": 1, "room": 2, "ground": 3, "out": 4} if not leaving else {
        "room": 0, "house": 0, "out": 1, "ground": 2, "air": 3,
    }  # fmt: skip
    next_free = dict(tops)
    found: dict[int, float] = {}
    for flow in sorted(flows, key=lambda flow: rank[flow.end if leaving else flow.begin]):
        node = flow.begin if leaving else flow.end
        if node in next_free:
            found[id(flow)] = next_free[node]
            next_free[node] += flow.size * scale
    return found


def _stack(flows: list[Flow], scale: float) -> tuple[dict[int, float], float]:
    """Tops of flows one below the other, far enough apart for their words, and the height they take."""
    tops: dict[int, float] = {}
    y = 0.0
    for flow in flows:
        wide = max(flow.size * scale, 0.8)
        room = max(wide + 6.0, ROW)
        tops[id(flow)] = y + (room - wide) / 2.0
        y += room
    return tops, y


def _ribbon(flow: Flow, x0: float, y0: float, x1: float, y1: float, wide: float) -> str:
    colour = _COLOURS["in" if flow.begin == "in" else flow.begin]
    if x1 > x0:
        middle = (x0 + x1) / 2.0
        path = (
            f"M{x0:.1f} {y0:.1f}C{middle:.1f} {y0:.1f} {middle:.1f} {y1:.1f} {x1:.1f} {y1:.1f}"
            f"v{wide:.2f}C{middle:.1f} {y1 + wide:.1f} {middle:.1f} {y0 + wide:.1f} {x0:.1f} {y0 + wide:.1f}Z"
        )
        paint = f'fill="{colour}"'
    else:
        # Backward: out to the right, round, and in from the left.
        y0, y1, reach = y0 + wide / 2.0, y1 + wide / 2.0, 34.0 + wide / 2.0
        path = (
            f"M{x0:.1f} {y0:.1f}C{x0 + reach:.1f} {y0:.1f} {x0 + reach:.1f} {(y0 + y1) / 2:.1f} "
            f"{(x0 + x1) / 2:.1f} {(y0 + y1) / 2:.1f}S{x1 - reach:.1f} {y1:.1f} {x1:.1f} {y1:.1f}"
        )
        paint = f'fill="none" stroke="{colour}" stroke-width="{wide:.2f}"'
    return (
        f'<path class="flow" {paint} d="{path}" '
        f'data-dataset="{flow.number.dataset}" data-joules="{flow.number.value!r}" data-wide="{wide!r}">'
        f"<title>{escape(flow.words)}: {escape(flow.number.text('SI'))} ({escape(flow.number.text('US'))}); "
        f"{escape(flow.number.source)}</title></path>"
    )


def _label(flow: Flow, x: float, y: float, anchor: str) -> str:
    words = escape(flow.words)
    both = in_both(lambda system: flow.number.text(system).lstrip("\N{MINUS SIGN}"))
    tspans = str(both).replace("<span", "<tspan").replace("</span", "</tspan")
    return (
        f'<text class="{anchor}" x="{x:.1f}" y="{y - 1.5:.1f}">{words}'
        f'<tspan class="amount" x="{x:.1f}" dy="13">{tspans}</tspan></text>'
    )
