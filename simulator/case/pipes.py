"""Pipe materials: conductivity of the wall and the temperature it bears for long.

Conductivities are handbook values for the solid material (value from memory). Service temperatures are common
practice for pipe without pressure, no source: a maker's sheet wins, and so do local rules.
"""

from __future__ import annotations

from dataclasses import dataclass

ZERO_CELSIUS = 273.15


@dataclass(frozen=True)
class PipeMaterial:
    """Conductivity [W/(m.K)] of a pipe wall and its service temperature [K]."""

    conductivity: float
    service_temperature: float


PIPES: dict[str, PipeMaterial] = {
    "PVC": PipeMaterial(0.17, 60.0 + ZERO_CELSIUS),
    "polyethylene": PipeMaterial(0.42, 60.0 + ZERO_CELSIUS),
    "polypropylene": PipeMaterial(0.22, 90.0 + ZERO_CELSIUS),
    "clay": PipeMaterial(1.2, 500.0 + ZERO_CELSIUS),
    "concrete": PipeMaterial(1.7, 200.0 + ZERO_CELSIUS),
    "galvanised steel": PipeMaterial(50.0, 200.0 + ZERO_CELSIUS),
    "stainless steel": PipeMaterial(15.0, 600.0 + ZERO_CELSIUS),
    "aluminium": PipeMaterial(200.0, 200.0 + ZERO_CELSIUS),
    "brick": PipeMaterial(0.8, 500.0 + ZERO_CELSIUS),
}
