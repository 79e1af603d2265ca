"""The resistance of the ducts and the point where the fan meets it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.air import network_kernels as kernels
from simulator.physics import air_kernels, fan_kernels
from simulator.physics.pipe_surface import RIBBED_MANNING, roughness_of_manning

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.air.flow import AirMover
    from simulator.case.schema import Case

SAMPLES = 400
"""Flows between which meeting points of a curve with a hump are looked for."""


def relative_roughness(case: Case) -> float:
    """Relative roughness of the ducts' wall; of ribbed pipe the one that gives its friction."""
    ducts = case.ducts
    if ducts.surface == "ribbed":
        manning = RIBBED_MANNING if ducts.manning is None else ducts.manning
        return float(roughness_of_manning(manning, ducts.diameter))
    return ducts.roughness / ducts.diameter


def branch_losses(case: Case) -> NDArray[np.float64]:
    """Sum of the loss coefficients of every branch of the case [1]."""
    ducts = case.ducts
    return np.array(
        [
            ducts.entry_loss
            + ducts.exit_loss
            + ducts.bend_loss * branch.right_angles
            + branch.loss_coefficient
            for branch in case.duct_branches
        ]
    )


@dataclass(frozen=True, eq=False)
class OperatingPoint:
    """Flow and pressures at one fan speed and air temperature.

    Attributes
    ----------
    mass_flow : float [kg/s]
        All branches.
    volume_flow : float [m3/s]
        At the fan.
    duct_pressure, series_pressure : float [Pa]
        Over the branches, and in grilles, coils and headers before and behind them.
    branch_flow : (B,) float [kg/s]
        Of every branch of the case.
    electric_power : float [W]
    meeting_points : int
        Flows at which the fan's curve meets the ducts' resistance; 1 for a fan given by its flow.
    notes : tuple of str
        What a user should know about the point.
    """

    mass_flow: float
    volume_flow: float
    duct_pressure: float
    series_pressure: float
    branch_flow: NDArray[np.float64]
    electric_power: float
    meeting_points: int
    notes: tuple[str, ...]

    @property
    def fan_pressure(self) -> float:
        """Pressure rise of the fan [Pa]."""
        return self.duct_pressure + self.series_pressure


@dataclass(frozen=True, eq=False)
class Network:
    """Branches of a case with air of one temperature in them, and another one in the fan.

    Attributes
    ----------
    mover : AirMover
    diameter [m], relative_roughness : float
    length [m], loss : (B,) float
    temperature : float [K]
        Of the air in the ducts.
    intake : float or None [K]
        Of the air in the fan and in the losses in series; as in the ducts if left out.
    """

    mover: AirMover
    diameter: float
    relative_roughness: float
    length: NDArray[np.float64]
    loss: NDArray[np.float64]
    temperature: float
    intake: float | None = None

    def __post_init__(self) -> None:
        kelvin = air_kernels.within_fit(self.temperature)
        intake = kelvin if self.intake is None else air_kernels.within_fit(self.intake)
        pinned = self.mover.density
        in_fan, in_ducts = (
            air_kernels.density(each, self.mover.pressure) if math.isnan(pinned) else pinned
            for each in (intake, kelvin)
        )
        object.__setattr__(self, "_density", float(in_fan))
        object.__setattr__(self, "_rho", np.full(self.length.size, in_ducts))
        object.__setattr__(self, "_mu", np.full(self.length.size, air_kernels.viscosity(kelvin)))

    @property
    def density(self) -> float:
        """Density of the air in the fan [kg/m3]."""
        return float(self._density)  # type: ignore[attr-defined]

    def _arrays(self) -> tuple[NDArray[np.float64], ...]:
        ones = np.ones(self.length.size)
        return ones, self._rho, self._mu, np.zeros(self.length.size)  # type: ignore[attr-defined]

    def series_pressure(self, volume_flow: float) -> float:
        """Pressure [Pa] lost in series with all branches at a volume flow [m3/s]."""
        return self.mover.series_resistance * self.density * volume_flow * volume_flow

    def duct_pressure(self, volume_flow: float) -> float:
        """Pressure [Pa] over the branches at a volume flow of all of them [m3/s]."""
        ones, rho, mu, flow = self._arrays()
        return float(
            kernels.split(
                volume_flow * self.density, self.diameter, self.length, self.relative_roughness, self.loss,
                ones, rho, mu, flow,
            )
        )  # fmt: skip

    def system_curve(self, volume_flows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pressure [Pa] that the fan has to give at each volume flow [m3/s]."""
        return np.array([self.series_pressure(float(q)) + self.duct_pressure(float(q)) for q in volume_flows])

    def operating_point(self, share: float = 1.0) -> OperatingPoint:
        """Flow and pressures at a share of full speed (or of the full flow, where the flow is given)."""
        ones, rho, mu, flow = self._arrays()
        mover, notes, points = self.mover, [], 1
        curve = mover.curve
        if curve is None or share <= 0.0:
            total = mover.total_mass_flow(share, self.temperature if self.intake is None else self.intake)
            pressure = float(
                kernels.split(
                    total, self.diameter, self.length, self.relative_roughness, self.loss, ones, rho, mu, flow
                )
            )
        else:
            total, pressure = kernels.meet(
                share, self.density, mover.series_resistance, curve.breaks, curve.coefficients,
                curve.end_slope, curve.density, mover.free_delivery, mover.has_hump, self.diameter,
                self.length, self.relative_roughness, self.loss, ones, rho, mu, flow,
            )  # fmt: skip
            points = self._meeting_points(share) if mover.has_hump else 1
            notes = self._notes(total / self.density / share, points)
        volume = total / self.density
        series = self.series_pressure(volume)
        if math.isnan(mover.efficiency):
            power = mover.fan_power(share)
        else:
            power = float(fan_kernels.electric_power(volume, pressure + series, mover.efficiency))
        return OperatingPoint(
            float(total), float(volume), float(pressure), series, flow, power, points, tuple(notes)
        )

    def _meeting_points(self, share: float) -> int:
        flows = np.linspace(0.0, self.mover.free_delivery * share, SAMPLES)[1:]
        curve = self.mover.curve
        if curve is None:
            return 1
        above = curve.pressure(flows, share, self.density) - self.system_curve(flows)
        return int(np.count_nonzero(np.diff(np.sign(above)) != 0.0))

    def _notes(self, flow: float, points: int) -> list[str]:
        """Say what is odd about a flow, scaled to full speed [m3/s]."""
        notes: list[str] = []
        mover = self.mover
        if points > 1:
            notes.append(
                f"the fan's curve meets the ducts' resistance at {points} flows; the largest is taken, but "
                "the fan may hunt between them: choose another fan or less resistance"
            )
        if mover.first_point > 0.0 and flow < mover.first_point:
            notes.append(
                "the ducts' resistance is more than the fan gives at any flow of its curve: it is taken "
                f"level below its first point, {mover.first_point:.4g} m3/s; the flow found is a guess"
            )
        if flow > mover.last_point * (1.0 + 1e-9):
            notes.append(
                "the ducts' resistance is so small that the flow lies past the end of the fan's curve, "
                f"{mover.last_point:.4g} m3/s; the curve is taken to fall on straight"
            )
        return notes


def network_of(case: Case, mover: AirMover, temperature: float, intake: float | None = None) -> Network:
    """Network of a case with air of one temperature [K] in the ducts, and at `intake` [K] in the fan."""
    return Network(
        mover=mover,
        diameter=case.ducts.diameter,
        relative_roughness=relative_roughness(case),
        length=np.array([branch.length for branch in case.duct_branches]),
        loss=branch_losses(case),
        temperature=temperature,
        intake=intake,
    )
