"""How much air moves: the fan's flow as mass flow, heat-capacity flow and fan power."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.air import flow_kernels
from simulator.physics import air_kernels

if TYPE_CHECKING:
    from simulator.case.schema import Case


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
    """

    volume_flow: float
    off_volume_flow: float
    mass_flow: float
    off_mass_flow: float
    power: float
    density: float
    heat_capacity: float
    pressure: float

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


def air_mover(case: Case) -> AirMover:
    """Collect what a case says about fan and air."""
    fan = case.fan
    nan = float("nan")
    by_mass = fan.mass_flow is not None
    return AirMover(
        volume_flow=nan if fan.flow is None else fan.flow,
        off_volume_flow=nan if by_mass else float(fan.off_flow),
        mass_flow=nan if fan.mass_flow is None else fan.mass_flow,
        off_mass_flow=float(fan.off_flow) if by_mass else nan,
        power=fan.power,
        density=nan if fan.air_density is None else fan.air_density,
        heat_capacity=nan if fan.air_heat_capacity is None else fan.air_heat_capacity,
        pressure=float(air_kernels.pressure_at(case.site.elevation)),
    )
