"""How much air moves: the fan's flow as mass flow, heat-capacity flow and fan power."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.air import flow_kernels
from simulator.errors import CaseError
from simulator.physics import air_kernels
from simulator.physics.fan_curve import curve_from_pair, curve_from_polynomial, curve_through_points

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.physics.fan_curve import FanCurve

SMALL_FAN_EFFICIENCY = 0.35
"""Air power over electric power of a small fan with its motor (common practice, no source) [1]."""


@dataclass(frozen=True)
class AirMover:
    """Fan and air of a case, as plain numbers.

    Attributes
    ----------
    volume_flow, off_volume_flow : float [m3/s]
        At full speed and with the fan off, at the density of the intake air; NaN where mass flows are given.
    mass_flow, off_mass_flow : float [kg/s]
        NaN where volume flows are given.
    power : float [W]
        Electric, at full speed; it ends as heat in the air. Falls with the cube of speed (fan laws).
    density, heat_capacity : float
        Pinned by the case; NaN for those of dry air.
    pressure : float [Pa]
    curve : FanCurve or None
        Pressure over flow; then the flows above are NaN, save the one with the fan off.
    series_resistance : float [1/m4]
        Sum of K / (2 A^2) of grilles, coils and headers: times density and volume flow squared a pressure.
    efficiency : float [1]
        Air power over electric power; NaN where the power is given.
    free_delivery : float [m3/s]
        Of the curve at full speed.
    has_hump : bool
        Whether the curve rises anywhere.
    first_point, last_point : float [m3/s]
        Flows between which the curve was given.
    """

    volume_flow: float
    off_volume_flow: float
    mass_flow: float
    off_mass_flow: float
    power: float
    density: float
    heat_capacity: float
    pressure: float
    curve: FanCurve | None = None
    series_resistance: float = 0.0
    efficiency: float = math.nan
    free_delivery: float = 0.0
    has_hump: bool = False
    first_point: float = 0.0
    last_point: float = math.inf

    def total_mass_flow(self, share: float, intake: float) -> float:
        """Mass flow of all ducts [kg/s] at a share of full flow, with intake air at `intake` [K]."""
        return float(
            flow_kernels.total_mass_flow(
                share, intake, self.volume_flow, self.off_volume_flow, self.mass_flow, self.off_mass_flow,
                self.density, self.pressure,
            )
        )  # fmt: skip

    def air_heat_capacity(self, temperature: float) -> float:
        """Heat capacity of the air [J/(kg.K)] at `temperature` [K]."""
        return float(flow_kernels.air_heat_capacity(temperature, self.heat_capacity))

    def fan_power(self, share: float) -> float:
        """Electric power [W] at a share of full flow."""
        return float(flow_kernels.fan_power(share, self.power))


def fan_curve_of(case: Case) -> FanCurve | None:
    """Fan curve of a case; None where the flow is given.

    Raises
    ------
    CaseError
        If the curve cannot be used.
    """
    fan = case.fan
    try:
        if fan.free_delivery is not None and fan.shut_off is not None:
            return curve_from_pair(fan.free_delivery, fan.shut_off, fan.shape, fan.curve_density)
        if fan.curve is None:
            return None
        if fan.curve.coefficients is not None and fan.curve.highest_flow is not None:
            return curve_from_polynomial(fan.curve.coefficients, fan.curve.highest_flow, fan.curve_density)
        return curve_through_points(fan.curve.flows or [], fan.curve.pressures or [], fan.curve_density)
    except ValueError as error:
        raise CaseError(str(error), key="fan.curve") from error


def air_mover(case: Case) -> AirMover:
    """Collect what a case says about fan and air.

    Raises
    ------
    CaseError
        If a fan curve cannot be used.
    """
    fan = case.fan
    nan = math.nan
    by_mass = fan.mass_flow is not None
    curve = fan_curve_of(case)
    efficiency = nan if fan.efficiency is None else fan.efficiency
    if curve is not None and fan.efficiency is None and "power" not in fan.model_fields_set:
        efficiency = SMALL_FAN_EFFICIENCY
    points = fan.curve.flows if fan.curve is not None and fan.curve.flows is not None else None
    return AirMover(
        volume_flow=nan if fan.flow is None else fan.flow,
        off_volume_flow=nan if by_mass else float(fan.off_flow),
        mass_flow=nan if fan.mass_flow is None else fan.mass_flow,
        off_mass_flow=float(fan.off_flow) if by_mass else nan,
        power=fan.power,
        density=nan if fan.air_density is None else fan.air_density,
        heat_capacity=nan if fan.air_heat_capacity is None else fan.air_heat_capacity,
        pressure=float(air_kernels.pressure_at(case.site.elevation)),
        curve=curve,
        series_resistance=sum(
            loss.coefficient / (2.0 * (0.25 * math.pi * loss.diameter**2) ** 2) for loss in fan.losses
        ),
        efficiency=efficiency,
        free_delivery=0.0 if curve is None else curve.free_delivery,
        has_hump=curve is not None and bool(curve.rising_stretches),
        first_point=points[0] if points else 0.0,
        last_point=math.inf if curve is None else float(curve.breaks[-1]),
    )
