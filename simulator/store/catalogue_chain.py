"""Datasets of stove, water, house, switching and the account of the whole."""

from __future__ import annotations

from typing import Final

from simulator.store.entry import coordinate, of_part, series

__all__ = ["CHAIN_COORDINATES", "CHAIN_SERIES"]

CHAIN_COORDINATES: Final = (
    coordinate("coil", "1", "i4", "number of the coil, from 1, in the order of the air"),
    coordinate("layer", "1", "i4", "number of the tank's layer, from 1 at the bottom"),
    coordinate("surface", "1", "i4", "number of the house's surface, from 1"),
    coordinate("mass", "1", "i4", "number of the mass in the house, from 1"),
)

CHAIN_SERIES: Final = (
    *of_part(
        "stove",
        series("shell_temperature", "degC", "stove's shell"),
        series("hood_wall_temperature", "degC", "wall of the hood"),
        series("hood_air_temperature", "degC", "air leaving the hood, before the coils"),
        series("fan_air_temperature", "degC", "air at the fan"),
        series("stove_gas_temperature", "degC", "combustion gas leaving the stove"),
        series("stove_gas_flow", "kg/s", "combustion gas leaving the stove"),
        series("fuel_rate", "kg/s", "fuel burning, as fired"),
        series("fuel_burnt", "kg", "fuel burnt so far, as fired"),
        series("fuel_power", "W", "lower heating value set free"),
        series("flue_loss", "W", "heat that leaves the stove with the combustion gas"),
        series("stove_to_room", "W", "heat from the bare part of the stove to the room"),
        series("hood_to_room", "W", "heat through the hood's wall to the room"),
        series("hood_to_air", "W", "heat that the air stream takes up in the hood, before any coil"),
    ),
    *of_part(
        "water",
        series("tank_temperature", "degC", "mean of the water in the tank"),
        series("tank_layer_temperature", "degC", "water in a layer of the tank", "layer"),
        series("coil_water_temperature", "degC", "water in or leaving the coil", "coil"),
        series("coil_air_temperature", "degC", "air leaving the coil", "coil"),
        series("heat_to_coil", "W", "heat from the air to the water of the coil", "coil"),
        series("pump_flow", "kg/s", "water through the coils"),
        series("tank_loss", "W", "heat from the tank to the room"),
        series("make_up_heat", "W", "heat brought by make-up water less what overflows"),
        series("steam_vented", "kg", "water boiled off in the coils so far"),
    ),
    *of_part(
        "house",
        series("cover_temperature", "degC", "inside of the surface", "surface"),
        series("mass_temperature", "degC", "mass in the house", "mass"),
        series("sky_temperature", "degC", "sky as the surfaces see it"),
        series("sun_let_in", "W", "sun through glazing, less what passes out again"),
        series("cover_loss", "W", "heat from the surfaces to the outside air"),
        series("sky_loss", "W", "heat radiated by the surfaces to the sky and surroundings"),
        series("air_leak_loss", "W", "heat lost with leaking air"),
        series("sun_on_surfaces", "W", "sun that the house's surfaces take up themselves"),
        series("cover_condensation", "kg/s", "water settling on the surfaces"),
        series("evaporation", "kg/s", "water given off by plants and wet soil"),
    ),
    *of_part(
        "switching",
        series("fan_setting", "1", "fan as switched: share of full speed"),
        series("feed_setting", "1", "fuel feed as switched: share of the full rate"),
        series("pump_setting", "1", "pump as switched: share of the full flow"),
        series("cover_setting", "1", "night cover as switched: share that is drawn"),
    ),
    *of_part(
        "whole",
        series("whole_fuel", "J", "lower heating value of the fuel burnt so far"),
        series("whole_heater", "J", "heat from any other heater so far"),
        series("whole_sun", "J", "sun let in so far"),
        series("whole_fan", "J", "electricity of fans so far"),
        series("whole_pump", "J", "electricity of the pump so far"),
        series("whole_gain", "J", "other heat given to the room so far"),
        series("whole_ground_ends", "J", "heat into the ground from below and from its sides so far, net"),
        series("whole_make_up", "J", "heat brought by make-up water less what overflowed so far"),
        series("whole_flue_loss", "J", "heat that left with combustion gas so far"),
        series("whole_envelope", "J", "heat lost through surfaces and leaks so far, less sun on surfaces"),
        series("whole_exhaust", "J", "heat lost with duct air exchanged with the outside so far, net"),
        series("whole_outside_ground", "J", "heat from the ground beside the house to the air so far, net"),
        series("whole_latent", "J", "heat taken by evaporation less what settling water gave so far"),
        series("whole_vented", "J", "heat that left with steam from the coils so far"),
        series("whole_stored_ground", "J", "change of the heat in floor and ground"),
        series("whole_stored_room", "J", "change of the heat in the room's air and light contents"),
        series("whole_stored_stove", "J", "change of the heat in stove and hood"),
        series("whole_stored_water", "J", "change of the heat in tank and coils"),
        series("whole_stored_mass", "J", "change of the heat in the house's masses"),
        series("whole_residual", "J", "heat that the account of the whole cannot place so far"),
    ),
)
