"""The whole case: every table, its keys and their defaults, in SI after validation.

Tables live in files of their own (`schema_site`, `schema_ground`, ...); this one puts them together.
Temperatures are in kelvin, times in seconds.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field, PrivateAttr

from simulator.case.duct_ways import DuctBranch
from simulator.case.fields import Table, Words
from simulator.case.schema_air import (
    AirRoom,
    Fan,
    FixedRoom,
    Heat,
    NoHeat,
    PowerHeat,
    Room,
    SeriesHeat,
    SupplyHeat,
)
from simulator.case.schema_controls import Controls, Rule
from simulator.case.schema_floor import Branch, Ducts, EdgeInsulation, Floor, FloorLayer, Lane, Run
from simulator.case.schema_flue import Flue
from simulator.case.schema_ground import (
    Adiabatic,
    AnnualWaveStart,
    FixedTemperature,
    Ground,
    GroundLayer,
    HeatFlow,
    Material,
    Patch,
    ProfileStart,
    SettledStart,
    UniformStart,
)
from simulator.case.schema_house import HouseRoom, Mass, Plants, Surface, WetSoil
from simulator.case.schema_moisture import Moisture
from simulator.case.schema_run import Numerics, Output, TimetableTable
from simulator.case.schema_site import (
    ConstantWeather,
    CsvWeather,
    DailyWaveWeather,
    Site,
    Tmy3Weather,
    Weather,
)
from simulator.case.schema_stove import Coil, Hood, Stove, StoveHeat
from simulator.case.schema_upsets import Upset
from simulator.case.schema_water import Water
from simulator.case.timetable import Timetable, compile_timetable

__all__ = [
    "Adiabatic",
    "AirRoom",
    "AnnualWaveStart",
    "Branch",
    "Case",
    "Coil",
    "ConstantWeather",
    "Controls",
    "CsvWeather",
    "DailyWaveWeather",
    "Ducts",
    "EdgeInsulation",
    "Fan",
    "FixedRoom",
    "FixedTemperature",
    "Floor",
    "FloorLayer",
    "Flue",
    "Ground",
    "GroundLayer",
    "HeatFlow",
    "Hood",
    "HouseRoom",
    "Lane",
    "Mass",
    "Material",
    "Moisture",
    "NoHeat",
    "Numerics",
    "Output",
    "Patch",
    "Plants",
    "PowerHeat",
    "ProfileStart",
    "Rule",
    "Run",
    "SeriesHeat",
    "SettledStart",
    "Site",
    "Stove",
    "StoveHeat",
    "SupplyHeat",
    "Surface",
    "Tmy3Weather",
    "UniformStart",
    "Upset",
    "Water",
    "WetSoil",
]


class Case(Table):
    """One case file, validated; `simulator.case.loader.load` builds it."""

    title: Annotated[str, Words(empty=True)] = Field("", description="a line about the case")
    site: Site = Field(description="place and period")
    weather: Weather = Field(description="outside air and sun")
    ground: Ground = Field(description="ground under and beside the floor")
    floor: Floor = Field(description="the heated floor")
    ducts: Ducts = Field(description="air ducts under the floor")
    fan: Fan = Field(description="what moves the air")
    heat: Heat = Field(description="what warms the air")
    room: Room = Field(description="the room over the floor")
    moisture: Moisture | None = Field(None, description="humidity of the air; left out: the air is dry")
    flue: Flue | None = Field(None, description="a stove's flue run under the floor; left out: there is none")
    stove: Stove | None = Field(None, description="the fire; left out: there is none")
    hood: Hood | None = Field(None, description="leads air round the stove's shell; left out: there is none")
    coils: Annotated[list[Coil], Field(max_length=10)] = Field(
        default_factory=list, description="water coils in the stream, in the order of the air"
    )
    water: Water | None = Field(None, description="tank and pump; left out: there are none")
    controls: Controls | None = Field(None, description="rules that switch by temperatures")
    upsets: Annotated[list[Upset], Field(max_length=100)] = Field(
        default_factory=list, description="failures to try the case with"
    )
    timetable: TimetableTable = Field(default_factory=TimetableTable, description="switching by the clock")
    numerics: Numerics = Field(default_factory=Numerics, description="how finely to compute")
    output: Output = Field(default_factory=Output, description="what is kept, and how it is shown")

    _source_text: str = PrivateAttr("")
    _source_path: Path | None = PrivateAttr(None)
    _folder: Path | None = PrivateAttr(None)

    @property
    def source_text(self) -> str:
        """The case file's text, letter for letter; empty for a case built in Python."""
        return self._source_text

    @property
    def source_path(self) -> str | None:
        """The case file's path as it was given, or None."""
        return None if self._source_path is None else str(self._source_path)

    @property
    def referenced_files(self) -> list[Path]:
        """Files named by the case, as paths that can be opened."""
        names = []
        if isinstance(self.weather, CsvWeather | Tmy3Weather):
            names.append(self.weather.file)
        if isinstance(self.heat, SeriesHeat):
            names.append(self.heat.file)
        return [self.resolve(name) for name in names]

    def resolve(self, file: str) -> Path:
        """Return the path of a file named in the case: relative names count from the case file's folder."""
        return (self._folder or Path()) / file

    @property
    def timetable_compiled(self) -> Timetable:
        """The timetable on the integer clock; built anew at each call, so keep it."""
        return compile_timetable(self.timetable, self.heat, self.site.start, self.site.duration, self.stove)

    @property
    def duct_branches(self) -> tuple[DuctBranch, ...]:
        """Ways of the air under the floor."""
        return self.ducts.ways(self.floor.length)

    @property
    def duct_length(self) -> float:
        """Length of the longest branch under the floor [m]."""
        return max(branch.buried_length for branch in self.duct_branches)

    @property
    def ground_levels(self) -> list[tuple[float, float, GroundLayer]]:
        """(top, bottom, layer) of each ground layer [m below the finished floor], down to the model's end."""
        levels = []
        top = self.floor.thickness
        for number, layer in enumerate(self.ground.layers):
            last = number == len(self.ground.layers) - 1
            bottom = self.ground.depth if last or layer.thickness is None else top + layer.thickness
            levels.append((top, bottom, layer))
            top = bottom
        return levels
