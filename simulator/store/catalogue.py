"""Every dataset of a results file once: name, dimensions, unit, number type and a line of explanation.

Writer, reader and documentation all take their names from here. Ledgers count from the start of the case;
heat flows of a row are means since the row before it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from simulator.store.catalogue_chain import CHAIN_COORDINATES, CHAIN_SERIES
from simulator.store.entry import Entry, coordinate, entries, of_part, series

__all__ = [
    "CATALOGUE", "COORDINATES", "FIELDS", "KELVIN_AT_0_DEGC", "PROGRAM", "SCHEMA_VERSION", "SERIES", "STATIC",
    "Entry",
]  # fmt: skip

PROGRAM: Final = "ductfloor"
SCHEMA_VERSION: Final = 1
KELVIN_AT_0_DEGC: Final = 273.15


COORDINATES: Final = entries(
    coordinate("time", "s", "f8", "time of the row"),
    coordinate("field_time", "s", "f8", "time of the ground and floor maps"),
    coordinate("station", "m", "f8", "middle of the slice of a station, along the ducts from the inlet"),
    coordinate("edge", "m", "f8", "edge between stations, along the ducts from the inlet"),
    coordinate("lane", "1", "i4", "number of the lane, from 1"),
    coordinate("duct", "1", "i4", "number of the duct, from 1"),
    coordinate("across", "m", "f8", "middle of a floor surface cell, from the middle line of the floor"),
    coordinate("section_across", "m", "f8", "middle of a section cell, from the middle line of the floor"),
    coordinate("section_depth", "m", "f8", "middle of a section cell, below the finished floor"),
    coordinate("section_across_edges", "m", "f8", "edge of section cells, from the floor's middle line"),
    coordinate("section_depth_edges", "m", "f8", "edge of section cells, below the finished floor"),
    coordinate("branch", "1", "i4", "number of the branch, from 1"),
    coordinate(
        "segment",
        "1",
        "i4",
        "number of the piece of a branch in one station, from 1, in the order of the air",
    ),
    *CHAIN_COORDINATES,
)

STATIC: Final = entries(
    Entry("station_length", ("station",), "m", "f8", "length of the slice a station stands for"),
    Entry("lane_across", ("lane",), "m", "f8", "middle of the lane, from the middle line of the floor"),
    Entry("lane_depth", ("lane",), "m", "f8", "middle of the lane, below the finished floor"),
    Entry("lane_ducts", ("lane",), "1", "f8", "number of ducts the lane stands for"),
    Entry("duct_across", ("duct",), "m", "f8", "middle of the duct, from the middle line of the floor"),
    Entry("duct_depth", ("duct",), "m", "f8", "middle of the duct, below the finished floor"),
    Entry("duct_lane", ("duct",), "1", "i4", "number of the lane, from 1, that stands for the duct"),
    Entry("floor_cell_width", ("across",), "m", "f8", "width of the floor surface cell"),
    Entry(
        "section_material", ("section_depth", "section_across"), "1", "i4",
        "material of the cell as an index, from 0, into material_names; -1 where there is no ground",
    ),
    Entry("duct_inside_radius", ("duct",), "m", "f8", "inside radius of the duct, or of the flue run's pipe"),
    Entry("branch_ducts", ("branch",), "1", "f8", "number of ducts the branch stands for"),
    Entry("branch_length", ("branch",), "m", "f8", "pipe in the branch, also outside the floor"),
    Entry("branch_loss", ("branch",), "1", "f8", "sum of the loss coefficients of the branch"),
    Entry("branch_group", ("branch",), "1", "i4", "0 air through the fan, 1 flue gas, 2 jacket air"),
    Entry("segment_branch", ("segment",), "1", "i4", "number of the branch, from 1"),
    Entry("segment_lane", ("segment",), "1", "i4", "number of the lane, from 1"),
    Entry("segment_station", ("segment",), "1", "i4", "number of the station, from 1"),
    Entry("segment_run", ("segment",), "1", "i4", "number of the straight run in its branch, from 1"),
    Entry("segment_direction", ("segment",), "1", "i4", "1 away from the floor's start, -1 back"),
    Entry("segment_begin", ("segment",), "m", "f8", "way of the air from the entrance to the piece"),
    Entry("segment_end", ("segment",), "m", "f8", "way of the air from the entrance to the piece's end"),
)  # fmt: skip

SERIES: Final = entries(
    series("outside_temperature", "degC", "temperature of the outside air"),
    series("room_temperature", "degC", "temperature of the room air"),
    series("supply_temperature", "degC", "temperature of the air entering the ducts"),
    series("exit_temperature", "degC", "temperature of the air leaving the ducts, mixed"),
    series("floor_mean_temperature", "degC", "mean temperature of the floor surface"),
    series("floor_lowest_temperature", "degC", "temperature of the coldest place on the floor surface"),
    series("floor_highest_temperature", "degC", "temperature of the warmest place on the floor surface"),
    series("ground_mean_temperature", "degC", "mean temperature of floor and ground, by heat capacity"),
    series("fan_share", "1", "share of the full fan flow"),
    series("mass_flow", "kg/s", "mass flow of air through all ducts"),
    series("reynolds_number", "1", "Reynolds number of one duct at its inlet"),
    series("film_coefficient", "W/(m2 K)", "mean film coefficient inside the ducts"),
    series("heater_power", "W", "heat from the heater into the supply air"),
    series("fan_power", "W", "heat from the fan into the supply air"),
    series("duct_heat", "W", "heat from the duct air into the ground, all ducts"),
    series("floor_heat", "W", "heat from the floor surface up to the room"),
    series("return_heat", "W", "heat the returning duct air brings to the room, relative to room air"),
    series("envelope_loss", "W", "heat lost from the room through walls and roof"),
    series("infiltration_loss", "W", "heat lost from the room with exchanged air"),
    series("sun_gain", "W", "heat from the sun, on floor and air"),
    series("other_gain", "W", "heat from people and equipment in the room"),
    series("outside_ground_loss", "W", "heat from the ground beside the building up to the outside air"),
    series("bottom_heat", "W", "heat into the ground from below"),
    series("sides_heat", "W", "heat into the ground from its sides"),
    series("exhaust_loss", "W", "heat lost with duct air exchanged with the outside"),
    series("latent_heat", "W", "heat set free by water settling in the ducts less what drying takes"),
    series("flue_heat", "W", "heat given by combustion gas in the flue run"),
    series("volume_flow", "m3/s", "volume flow of air at the fan"),
    series("fan_pressure", "Pa", "pressure rise of the fan"),
    series("duct_pressure", "Pa", "pressure over the branches alone"),
    series("ledger_latent", "J", "heat set free by water settling in the ducts so far, net"),
    series("ledger_flue", "J", "heat given by combustion gas in the flue run so far"),
    series("ledger_heater", "J", "heat from the heater so far"),
    series("ledger_fan", "J", "heat from the fan so far"),
    series("ledger_duct", "J", "heat from duct air into the ground so far, net"),
    series("ledger_floor", "J", "heat from the floor up to the room so far, net"),
    series("ledger_return", "J", "heat brought to the room by returning duct air so far, net"),
    series("ledger_envelope", "J", "heat lost through walls and roof so far, net"),
    series("ledger_infiltration", "J", "heat lost with exchanged room air so far, net"),
    series("ledger_sun", "J", "heat from the sun so far"),
    series("ledger_other_gain", "J", "heat from people and equipment so far"),
    series("ledger_outside_ground", "J", "heat from the ground up to the outside air so far, net"),
    series("ledger_bottom", "J", "heat into the ground from below so far, net"),
    series("ledger_sides", "J", "heat into the ground from its sides so far, net"),
    series("ledger_exhaust", "J", "heat lost with duct air exchanged with the outside so far, net"),
    series("ledger_stored_ground", "J", "change of the heat stored in floor and ground since the start"),
    series("ledger_stored_under_floor", "J",
            "change of the heat stored between the building's edges since the start"),
    series("ledger_stored_room", "J", "change of the heat stored in the room since the start"),
    series("ledger_residual", "J", "heat the ledger cannot account for so far"),
    series("ledger_handled", "J", "heat handled so far, the measure for the residual"),
    series("lane_exit_temperature", "degC", "temperature of the air leaving a duct of the lane", "lane"),
    series("air_temperature", "degC", "temperature of the air along a duct of the lane", "lane", "edge"),
    series("wall_temperature", "degC", "mean wall temperature of a duct of the lane", "lane", "station"),
    series("duct_heat_per_length", "W/m", "heat from the air of one duct of the lane into the ground",
            "lane", "station"),
    series("floor_station_temperature", "degC", "mean floor surface temperature of a station", "station"),
    series("branch_mass_flow", "kg/s", "mass flow in one duct of the branch", "branch"),
    series("branch_exit_temperature", "degC", "temperature of the air or gas leaving the branch", "branch"),
    *of_part(
        "moisture",
        series("room_relative_humidity", "1", "relative humidity of the room air"),
        series("room_humidity_ratio", "kg/kg", "water vapour in the room air per dry air"),
        series("exit_humidity_ratio", "kg/kg", "vapour in the air leaving the ducts per dry air, mixed"),
        series("humidity_ratio", "kg/kg", "vapour per dry air along a duct of the lane", "lane", "edge"),
        series("duct_surface_temperature", "degC", "inside of the duct wall of the lane", "lane", "station"),
        series("condensation", "kg/(m s)", "water settling on the wall of one duct; negative: drying",
                "lane", "station"),
        series("water_held", "kg/m", "liquid water in one duct of the lane", "lane", "station"),
        series("water_condensed", "kg", "water settled in all ducts so far"),
        series("water_dried", "kg", "water dried off in all ducts so far"),
        series("water_drained", "kg", "water run off from all ducts so far"),
        series("water_standing", "kg", "water in all ducts"),
        series("vapour_given", "kg", "vapour from plants and people so far"),
        series("vapour_leaked", "kg", "vapour lost with exchanged room air so far, net"),
        series("vapour_from_ducts", "kg", "vapour brought to the room by duct air so far, net"),
        series("vapour_held", "kg", "vapour added to hold the room's humidity so far, net"),
        series("vapour_on_glass", "kg", "vapour settled on cold surfaces of the room so far"),
    ),
    *of_part(
        "flue",
        series("flue_mass_flow", "kg/s", "combustion gas"),
        series("flue_entry_temperature", "degC", "gas entering the run"),
        series("flue_exit_temperature", "degC", "gas leaving the run for the stack"),
        series("flue_gas_temperature", "degC", "gas along the run", "edge"),
        series("flue_wall_temperature", "degC", "inside of the gas pipe along the run", "station"),
        series("flue_dew_temperature", "degC", "below this, water settles from the gas"),
        series("flue_condensation", "kg/s", "water settling in the run, while it is wet"),
        series("flue_stack_wall_temperature", "degC", "inside of the stack at its top"),
        series("flue_draught", "Pa", "pull of the stack by buoyancy"),
        series("flue_resistance", "Pa", "pressure lost in run and stack"),
        series("flue_margin", "Pa", "pull less 1.5 resistances and the stove's need; below 0 gas comes in"),
        series("jacket_mass_flow", "kg/s", "air in the jacket"),
        series("jacket_exit_temperature", "degC", "air leaving the jacket for the room"),
    ),
    *CHAIN_SERIES,
)  # fmt: skip

FIELDS: Final = entries(
    Entry("floor_surface_temperature", ("field_time", "station", "across"), "degC", "f8",
          "temperature of the floor surface"),
    Entry("ground_temperature", ("field_time", "station", "section_depth", "section_across"), "degC", "f4",
          "temperature of floor and ground, rounded to 1/1024 K"),
)  # fmt: skip

CATALOGUE: Final = MappingProxyType({**COORDINATES, **STATIC, **SERIES, **FIELDS})
