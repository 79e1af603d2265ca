"""Fan and ducts of a case as a chart: the fan's curve, the ducts' resistance, and where they meet."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from simulator.air.flow import air_mover
from simulator.air.network import network_of
from simulator.errors import DuctfloorError
from simulator.look.branches import case_of
from simulator.look.fan_chart import Curve, Point, draw_fan_chart, flow_text
from simulator.look.picking import When, instants, pick_time, shown_units, titles
from simulator.look.scales import Units, temperature_text
from simulator.look.theme import themed
from simulator.look.wording import moment_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.air.network import Network, OperatingPoint
    from simulator.case.schema import Case
    from simulator.physics.fan_curve import FanCurve
    from simulator.store.reader import Results

__all__ = ["fan_picture", "fan_picture_of_results"]

KELVIN_AT_0_DEGC = 273.15
SAMPLES = 161
BEYOND_FREE = 1.06  # the ducts' curve is followed up to so many times the largest flow
LONGEST_LINE = 125  # letters
ALIKE = 0.005  # flows of branches that differ by less are told as one


@themed
def fan_picture(
    case: Case,
    temperatures: tuple[float, float] | None = None,
    shares: Sequence[float] = (1.0,),
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw pressure over flow of fan and ducts.

    Parameters
    ----------
    case : Case
        A validated case; nothing is run.
    temperatures : (float, float) [K], optional
        Of the air in the fan and in the ducts. When left out: of the room at the start, and of the supply
        where the case gives one.
    shares : sequence of float
        Speeds to draw, as shares of full speed, above 0; what is said in words is said of the last.
    units : {"SI", "US"}, optional
        The system on the left and below; that of the case when left out.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    CaseError
        When the fan's curve cannot be used.
    DuctfloorError
        When there is no such system of units.
    """
    shown = units or case.output.units
    if shown not in ("SI", "US"):
        raise DuctfloorError(f"units {shown!r}: allowed: SI or US")
    lines = [case.title] if case.title.strip() else []
    return _draw(case, temperatures or _usual_temperatures(case), shares, lines, shown, figure)


@themed
def fan_picture_of_results(
    results: Results, time: When = -1, *, units: Units | None = None, figure: Figure | None = None
) -> Figure:
    """Draw fan and ducts of the case of some results, with the air and at the fan speed of a moment.

    Parameters
    ----------
    results : Results
    time : int, str, datetime or datetime64
        Index of the row, or a local date and time. While the fan is off full speed is drawn.
    units, figure
        As for `fan_picture`.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time.
    """
    shown = shown_units(results, units)
    case = case_of(results)
    row = pick_time(results, time, "time")
    share = float(results.read("fan_share", row))
    mass_flow = float(results.read("mass_flow", row))
    ends = [float(results.read(name, row)) for name in ("supply_temperature", "exit_temperature")]
    intake = float(results.read(f"{case.fan.intake}_temperature", row))
    # Air that stands still in the ducts says nothing about air that would move.
    ducts = float(np.mean(ends)) if mass_flow > 0.0 else intake
    lines = titles(results)
    state = f"the fan runs at {100.0 * share:.0f} % of its speed" if share > 0.0 else "the fan is off"
    lines.append(f"{moment_text(instants(results)[row])}: {state}.")
    shares = [1.0] if share in (0.0, 1.0) else [1.0, share]
    warmth = (intake + KELVIN_AT_0_DEGC, ducts + KELVIN_AT_0_DEGC)
    return _draw(case, warmth, shares, lines, shown, figure)


def _usual_temperatures(case: Case) -> tuple[float, float]:
    room = float(case.room.temperature)
    return room, float(case.heat.temperature) if case.heat.kind == "supply temperature" else room


def _draw(
    case: Case,
    temperatures: tuple[float, float],
    shares: Sequence[float],
    lines: list[str],
    units: Units,
    figure: Figure | None,
) -> Figure:
    network = network_of(case, air_mover(case), temperatures[1], temperatures[0])
    points = [network.operating_point(share) for share in shares]
    taken = network.mover.curve
    given = taken is None
    curves = [] if taken is None else [_fan_curve(network, taken, share) for share in shares]
    flows = [float(curve.flow[-1]) for curve in curves] or [1.35 * point.volume_flow for point in points]
    # Denser where there is little flow: there the curve bends most.
    flow = BEYOND_FREE * max(flows) * np.linspace(0.0, 1.0, SAMPLES) ** 1.5
    curves.append(Curve("ducts and fittings", flow, network.system_curve(flow)))
    if network.mover.series_resistance > 0.0:
        alone = np.array([network.series_pressure(float(each)) for each in flow])
        curves.append(Curve("fittings outside the branches", flow, alone))
    fan, ducts = (temperature_text(each - KELVIN_AT_0_DEGC, units=units) for each in temperatures)
    air = f"Air of {fan} in the fan, {ducts} in the ducts."
    lines = [*lines, f"{air} {_said(points[-1], units)}"]
    for note in points[-1].notes:
        lines += textwrap.wrap(f"Mind: {note}.", LONGEST_LINE)
    meeting = [
        Point(_speed(share, given), point.volume_flow, point.fan_pressure)
        for share, point in zip(shares, points, strict=True)
    ]
    return draw_fan_chart(curves, meeting, "Fan and ducts", lines, units, figure)


def _speed(share: float, given: bool) -> str:
    if share == 1.0:
        return "flow as given" if given else "full speed"
    return f"{100.0 * share:.0f} % of {'the flow' if given else 'full speed'}"


def _fan_curve(network: Network, taken: FanCurve, share: float) -> Curve:
    flow = np.linspace(0.0, network.mover.free_delivery * share, SAMPLES)
    label = "fan" if share == 1.0 else f"fan at {100.0 * share:.0f} % speed"
    return Curve(label, flow, taken.pressure(flow, share, network.density), of_fan=True)


def _said(point: OperatingPoint, units: Units) -> str:
    """Electric power, and how the flow shares out among the branches."""
    volumes = point.branch_flow * (point.volume_flow / point.mass_flow if point.mass_flow > 0.0 else 0.0)
    least, most = float(volumes.min()), float(volumes.max())
    said = f"{point.electric_power:.3g} W of electricity. " if point.electric_power > 0.0 else ""
    count = volumes.size
    if count == 1:
        return said + "One branch."
    if most - least <= ALIKE * most:
        return f"{said}{count} branches of {flow_text(most, units)} each."
    return f"{said}{count} branches of {flow_text(least, units)} to {flow_text(most, units)}."
