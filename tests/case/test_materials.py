"""Named materials against tabulated values, and materials given by numbers."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from simulator.case.fields import SiValue
from simulator.case.materials import MATERIALS, SAME_AS, find
from simulator.case.schema_ground import Material

#: ISO 13370, ground properties: conductivity [W/(m.K)] and heat capacity [J/(m3.K)] (value from memory)
GROUND = {"clay or silt": (1.5, 3.0e6), "sand and gravel": (2.0, 2.0e6), "rock": (3.5, 2.0e6)}
#: ISO 10456: conductivity, density, specific heat (value from memory)
DESIGN = {
    "concrete": (1.65, 2200, 1000),
    "dense concrete": (2.0, 2400, 1000),
    "reinforced concrete": (2.3, 2300, 1000),
    "cement mortar": (1.0, 1800, 1000),
    "softwood": (0.13, 500, 1600),
    "hardwood": (0.18, 700, 1600),
    "granite": (2.8, 2600, 1000),
    "steel": (50, 7800, 450),
    "asphalt": (0.7, 2100, 1000),
    "water": (0.6, 1000, 4190),
}


@pytest.mark.parametrize("name", GROUND)
def test_ground(name: str) -> None:
    assert (MATERIALS[name].conductivity, pytest.approx(MATERIALS[name].heat_capacity)) == GROUND[name]


@pytest.mark.parametrize("name", DESIGN)
def test_design_values(name: str) -> None:
    found = MATERIALS[name]
    assert (found.conductivity, found.density, found.specific_heat) == DESIGN[name]


@pytest.mark.parametrize("name", MATERIALS)
def test_plausible(name: str) -> None:
    """Diffusivities of building materials and soils lie near 1e-7 to 2e-6 m2/s, of steel near 1.4e-5."""
    found = MATERIALS[name]
    assert 1e-7 < found.conductivity / found.heat_capacity < 2e-5
    assert "memory" in found.source or "no source" in found.source


def test_other_names() -> None:
    assert set(SAME_AS.values()) <= set(MATERIALS)
    assert not set(SAME_AS) & set(MATERIALS)
    assert find("XPS") is MATERIALS["extruded polystyrene"]
    assert find("nothing") is None


def test_by_name() -> None:
    material = Material.model_validate({"material": "concrete"})
    assert (material.conductivity, material.heat_capacity) == (1.65, 2.2e6)
    assert material.label == "concrete"


def test_by_name_with_own_numbers() -> None:
    material = Material.model_validate({"material": "concrete", "density": "1000 kg/m3"})
    assert (material.conductivity, material.heat_capacity) == (1.65, 1.0e6)
    material = Material.model_validate({"material": "concrete", "heat_capacity": "1 MJ/(m3.K)"})
    assert material.heat_capacity == 1.0e6
    material = Material.model_validate({"material": "concrete", "conductivity": "2 W/(m.K)"})
    assert (material.conductivity, material.heat_capacity) == (2.0, 2.2e6)


def test_by_numbers() -> None:
    material = Material.model_validate(
        {"conductivity": "1.5 W/(m.K)", "density": "2000 kg/m3", "specific_heat": "0.25 BTU/(lb.F)"}
    )
    # 1 BTU/(lb.F) = 4186.8 J/(kg.K) exactly, as the International Table BTU is defined
    assert material.heat_capacity == pytest.approx(2000 * 0.25 * 4186.8, rel=1e-9)
    assert material.label == "1.5 W/(m.K)"
    assert (
        Material.model_validate({"conductivity": SiValue(1.5), "heat_capacity": SiValue(2e6)}).conductivity
        == 1.5
    )


def test_numbers_already_in_si_are_checked_too() -> None:
    with pytest.raises(ValidationError, match="must be above 0"):
        Material.model_validate({"conductivity": SiValue(0.0), "heat_capacity": SiValue(2e6)})
    with pytest.raises(ValidationError, match="must be a finite number"):
        Material.model_validate({"conductivity": SiValue("nan"), "heat_capacity": SiValue(2e6)})


def test_frozen() -> None:
    material = Material.model_validate({"material": "concrete"})
    with pytest.raises(ValidationError, match="frozen"):
        material.conductivity = 3.0  # type: ignore[misc]
