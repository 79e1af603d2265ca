"""`ductfloor sum`: the sums that people do on paper, with their errors and in either system of units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from simulator.cli.examples import examples_of
from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.answers.sum_inputs import Names
    from simulator.answers.sum_table import Sum

__all__ = ["sums"]

sums = typer.Typer(
    name="sum",
    help=(
        "Sums on paper: heat in a stream of water or air, heat of fuel, rates and amounts, shares.\n\n"
        "Leave one quantity blank; it is solved for. Units of either system mix freely."
    ),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

_OPTIONS = {"entering": "--from", "leaving": "--to", "duration": "--for", "whole": "--of", "parts": "--part"}
_ODD = {"thermometers_within": "--thermometers-within", "difference_within": "--difference-within"}

Text = str | None
Json = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
Units = Annotated[
    Literal["SI", "US"] | None,
    typer.Option(case_sensitive=False, help="Units that come first. Left out: those that were typed."),
]
Heat = Annotated[
    Text, typer.Option(help='Heat taken up, as a rate: "4.4 kW", "15000 BTU/h". An amount needs --for.')
]
Flow = Annotated[Text, typer.Option(help='Flow by volume or mass; an amount such as "5 gal" needs --for.')]
From = Annotated[Text, typer.Option("--from", help="Temperature of the stream where it enters.")]
To = Annotated[Text, typer.Option("--to", help="Temperature of the stream where it leaves.")]
HeatWithin = Annotated[Text, typer.Option(help="How far the heat may be off either way.")]
FlowWithin = Annotated[Text, typer.Option(help='How far the flow meter may be off: "0.1 gpm" or "5 %".')]
Thermometers = Annotated[Text, typer.Option(help='How far each of two thermometers may be off: "1 degF".')]
Difference = Annotated[
    Text, typer.Option(help="How far the difference may be off, where one thermometer read both.")
]
FlowAt = Annotated[
    Text, typer.Option(help="Temperature where the flow was measured. Left out: that of --from.")
]
For = Annotated[Text, typer.Option("--for", help='Time for which it flows or burns: "6 h".')]
Of = Annotated[Text, typer.Option("--of", help="A heat, such as that of the fire, of which this is a share.")]


def _names(*keys: str) -> Names:
    from simulator.answers.sum_inputs import Names

    listed = {key: "--" + key.replace("_", "-") for key in keys}
    return Names({**listed, **_ODD, **_OPTIONS})


def _print(found: Sum, json: bool, units: str | None, typed: dict[str, Any]) -> None:
    from simulator.cli.screen import heading, paragraph, print_json, rows, system_named

    if json:
        print_json(found.as_dict())
        return
    system = system_named(units, "US" if _speaks_us(typed) else "SI")
    typer.echo(found.title)
    typer.echo()
    rows(found.as_rows(system))
    remarks = found.remarks()
    if remarks:
        heading("Mind")
        for remark in remarks:
            paragraph(remark)


def _speaks_us(typed: dict[str, Any]) -> bool:
    """Whether most of what was typed is in US units."""
    from simulator.answers.sum_inputs import written_in

    systems = [written_in(text) for text in typed.values() if isinstance(text, str)]
    return systems.count("US") > systems.count("SI")


def _given(**options: Any) -> dict[str, Any]:
    return options


@sums.command("water", epilog=examples_of("sum water"))
@guarded
def water(
    heat: Heat = None,
    flow: Flow = None,
    entering: From = None,
    leaving: To = None,
    heat_within: HeatWithin = None,
    flow_within: FlowWithin = None,
    thermometers_within: Thermometers = None,
    difference_within: Difference = None,
    flow_at: FlowAt = None,
    duration: For = None,
    whole: Of = None,
    json: Json = False,
    units: Units = None,
) -> None:
    """Solve a stream of water for heat, flow or a temperature.

    Of --heat, --flow, --from and --to leave one out.
    """
    from simulator.answers.sum_streams import water_sum

    given = _given(
        heat=heat, flow=flow, entering=entering, leaving=leaving, heat_within=heat_within,
        flow_within=flow_within, thermometers_within=thermometers_within,
        difference_within=difference_within, flow_at=flow_at, duration=duration, whole=whole,
    )  # fmt: skip
    _print(water_sum(**given, names=_names(*given)), json, units, given)


@sums.command("air", epilog=examples_of("sum air"))
@guarded
def air(
    heat: Heat = None,
    flow: Flow = None,
    entering: From = None,
    leaving: To = None,
    humidity: Annotated[
        Text, typer.Option(help="Relative humidity where it enters, 0 to 1 or per cent. Left out: dry air.")
    ] = None,
    elevation: Annotated[Text, typer.Option(help="Height above sea level, which thins the air.")] = None,
    heat_within: HeatWithin = None,
    flow_within: FlowWithin = None,
    thermometers_within: Thermometers = None,
    difference_within: Difference = None,
    flow_at: FlowAt = None,
    duration: For = None,
    whole: Of = None,
    json: Json = False,
    units: Units = None,
) -> None:
    """Solve a stream of air for heat, flow or a temperature.

    Of --heat, --flow, --from and --to leave one out. Water that settles where humid air cools is counted.
    """
    from simulator.answers.sum_streams import air_sum

    given = _given(
        heat=heat, flow=flow, entering=entering, leaving=leaving, humidity=humidity, elevation=elevation,
        heat_within=heat_within, flow_within=flow_within, thermometers_within=thermometers_within,
        difference_within=difference_within, flow_at=flow_at, duration=duration, whole=whole,
    )  # fmt: skip
    _print(air_sum(**given, names=_names(*given)), json, units, given)


@sums.command("fuel", epilog=examples_of("sum fuel"))
@guarded
def fuel(
    mass: Annotated[Text, typer.Option(help='Fuel as fired: "18.1 kg", "40 lb".')] = None,
    duration: Annotated[Text, typer.Option("--time", help='Burn time: "6.5 h".')] = None,
    heat: Annotated[
        Text,
        typer.Option(help="Heat in the fuel, or with --efficiency from the stove: a rate, or an amount."),
    ] = None,
    moisture: Annotated[str, typer.Option(help="Water over mass as fired, 0 to 1 or per cent.")] = "0.08",
    heating_value: Annotated[
        str, typer.Option(help="Lower heating value of the dry fuel; wood and pellets have the default.")
    ] = "18.8 MJ/kg",
    efficiency: Annotated[
        Text, typer.Option(help="Share of the fuel's heat that the stove gives to room, air and water.")
    ] = None,
    part: Annotated[
        list[str] | None,
        typer.Option(help='Told as a share of the fuel: "water = 15000 BTU/h". May be given again.'),
    ] = None,
    mass_within: Annotated[Text, typer.Option(help="How far the mass may be off either way.")] = None,
    time_within: Annotated[Text, typer.Option(help="How far the burn time may be off.")] = None,
    heat_within: HeatWithin = None,
    moisture_within: Annotated[Text, typer.Option(help='How far the moisture may be off: "0.02".')] = None,
    heating_value_within: Annotated[Text, typer.Option(help="How far the heating value may be off.")] = None,
    json: Json = False,
    units: Units = None,
) -> None:
    """Solve a fire for heat, mass of fuel or burn time.

    Of --mass, --time and --heat leave one out. --mass alone gives the amount of heat.
    """
    from simulator.answers.sum_fuel import fuel_sum

    given = _given(
        mass=mass, duration=duration, heat=heat, moisture=moisture, heating_value=heating_value,
        efficiency=efficiency, mass_within=mass_within, duration_within=time_within,
        heat_within=heat_within, moisture_within=moisture_within,
        heating_value_within=heating_value_within,
    )  # fmt: skip
    names = _names(*given)
    names.options.update(duration="--time", duration_within="--time-within")
    parts = dict(_named(text) for text in part or [])
    typed = {key: text for key, text in given.items() if key != "heating_value"} | parts
    _print(fuel_sum(**given, parts=parts, names=names), json, units, typed)


def _named(text: str) -> tuple[str, str]:
    from simulator.errors import CaseError

    name, sign, value = text.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise CaseError(
            "is no named part", key="--part", value=text, fix='write it like "water = 15000 BTU/h"'
        )
    return name.strip(), value.strip()


@sums.command("heat", epilog=examples_of("sum heat"))
@guarded
def heat_over_time(
    rate: Annotated[Text, typer.Option(help='A rate: "4.4 kW", "15000 BTU/h".')] = None,
    amount: Annotated[Text, typer.Option(help='An amount: "26 kWh", "90000 BTU".')] = None,
    duration: Annotated[
        Text, typer.Option("--time", help='The time for which the rate lasts: "6 h".')
    ] = None,
    rate_within: Annotated[Text, typer.Option(help="How far the rate may be off either way.")] = None,
    amount_within: Annotated[Text, typer.Option(help="How far the amount may be off.")] = None,
    time_within: Annotated[Text, typer.Option(help="How far the time may be off.")] = None,
    json: Json = False,
    units: Units = None,
) -> None:
    """Solve for a rate of heat, its amount or its time.

    Of --rate, --amount and --time leave one out. kW and BTU/h are rates, kWh and BTU are amounts.
    """
    from simulator.answers.sum_heat import heat_sum

    given = _given(
        rate=rate, amount=amount, duration=duration, rate_within=rate_within, amount_within=amount_within,
        duration_within=time_within,
    )  # fmt: skip
    names = _names(*given)
    names.options.update(duration="--time", duration_within="--time-within")
    _print(heat_sum(**given, names=names), json, units, given)


@sums.command("share", epilog=examples_of("sum share"))
@guarded
def share_of(
    part: Annotated[Text, typer.Option(help="The part: a rate, or an amount.")] = None,
    whole: Of = None,
    share: Annotated[Text, typer.Option(help="The share, 0 to 1 or per cent.")] = None,
    duration: For = None,
    part_within: Annotated[Text, typer.Option(help="How far the part may be off either way.")] = None,
    whole_within: Annotated[Text, typer.Option("--of-within", help="How far the whole may be off.")] = None,
    share_within: Annotated[Text, typer.Option(help="How far the share may be off.")] = None,
    json: Json = False,
    units: Units = None,
) -> None:
    """Solve for the share one heat is of another one.

    Of --part, --of and --share leave one out. A rate and an amount can be compared only with --for.
    """
    from simulator.answers.sum_heat import share_sum

    given = _given(
        part=part, whole=whole, share=share, duration=duration, part_within=part_within,
        whole_within=whole_within, share_within=share_within,
    )  # fmt: skip
    names = _names(*given)
    names.options["whole_within"] = "--of-within"
    _print(share_sum(**given, names=names), json, units, given)
