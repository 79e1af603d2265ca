"""`ductfloor overnight`: fan on, off or on a thermostat tonight."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.first_time import told_if_first
from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.answers.fan_choice import FanChoice, Price
    from simulator.case.units import System

__all__ = ["EXAMPLES", "overnight"]

KELVIN_AT_0_DEGC = 273.15
EXAMPLES = """Examples:

  ductfloor overnight shed.toml

  ductfloor overnight shed.toml --limit "40 degF" --price "0.18 USD"

  ductfloor overnight shed.toml --watch floor --limit "6 degC" --thermostat "8 degC" --json
"""


@guarded
def overnight(
    case_file: Annotated[Path, typer.Argument(metavar="CASE", help="Case file.")],
    limit: Annotated[
        str, typer.Option(help="Hours below this are counted, and the cold snap leads to it.")
    ] = "0 degC",
    watch: Annotated[
        Literal["room", "floor", "coldest floor"], typer.Option(help="What should stay above the limit.")
    ] = "room",
    thermostat: Annotated[
        str | None,
        typer.Option(help="The fan starts when the room is below this. Left out: 1 K above the limit."),
    ] = None,
    dead_band: Annotated[str, typer.Option(help="It stops when the room is warmer again by this.")] = "1 K",
    price: Annotated[
        str | None, typer.Option(help='What a kilowatt-hour costs, such as "0.18 USD" or 0.3.')
    ] = None,
    night: Annotated[
        int | None, typer.Option(help="Which night, from 1; -1 is the last. Left out: the last.")
    ] = None,
    cold_snap: Annotated[
        bool | None,
        typer.Option(
            "--cold-snap/--no-cold-snap",
            help="Search how cold it may become. Left out: only where a run takes less than 10 s.",
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Picture to write. Left out: CASE-fan-choice.png.")
    ] = None,
    picture: Annotated[bool, typer.Option("--picture/--no-picture", help="Write a picture.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is printed.")
    ] = None,
) -> None:
    """Say whether to leave the fan on tonight: on, off and on a thermostat, and what it costs."""
    from simulator.case.loader import load

    case = load(case_file)
    from simulator.answers.fan_choice import fan_choice
    from simulator.answers.fan_night import Thermostat
    from simulator.cli.moments import quantity_typed
    from simulator.cli.screen import print_json, progress_bar, system_named

    system = system_named(units, case.output.units)
    mark = quantity_typed(limit, "temperature", "--limit")
    setting = mark + 1.0 if thermostat is None else quantity_typed(thermostat, "temperature", "--thermostat")
    kept = Thermostat(setting, quantity_typed(dead_band, "temperature difference", "--dead-band"))
    with told_if_first(case), progress_bar(case_file.stem) as progress:
        choice = fan_choice(
            case, limit=mark, watch=watch, thermostat=kept, price=_price(price), night=night,
            snaps=cold_snap, progress=progress,
        )  # fmt: skip
    written = []
    if picture or out is not None:
        from simulator.look.fan_choice_chart import fan_choice_chart
        from simulator.look.save import save

        target = out or Path(f"{case_file.stem}-fan-choice.png")
        written.append(save(fan_choice_chart(choice, case.title, units=system), target))
    if json:
        print_json({**choice.as_dict(), "title": case.title, "files": [str(path) for path in written]})
        return
    _print(choice, case.title, system)
    if written:
        typer.echo(f"\nwrote {', '.join(map(str, written))}")


def _print(choice: FanChoice, title: str, system: System) -> None:
    from simulator.case.units import show
    from simulator.cli.screen import heading, one_line, paragraph, print_advice, print_cautions, table

    def warm(celsius: float | None) -> str:
        return "-" if celsius is None else show(celsius + KELVIN_AT_0_DEGC, "temperature", system)

    typer.echo(one_line(title))
    typer.echo(choice.tonight.window.describe())
    typer.echo()
    paragraph(choice.answer(system), first="")
    nights = choice.nights
    heading("Fan after the fire")
    typer.echo(f"  to choose for {choice.tonight.hours:.1f} h; while a fire burns it runs as the case says")
    head = ("", *(f"{night.name}{' (case)' if night.as_in_case else ''}" for night in nights))
    body = [
        (
            words,
            *map(warm, cells),
        )
        for words, cells in _lows(choice)
    ]
    table(head, body)
    heading("Reached")
    table(head, _times(choice))
    heading(f"Hours below {show(choice.limit, 'temperature', system)}")
    measures = [name for name in nights[0].hours_below if name != "exit"]
    table(head, [(name, *(f"{night.hours_below[name]:.1f} h" for night in nights)) for name in measures])
    heading("What the fan costs and gives")
    table(head, _balance(choice, system))
    if not choice.snaps:
        heading("Cold snap")
        paragraph("Not searched; --cold-snap does it, with some twelve runs more.")
    if choice.snaps:
        heading(f"Cold snap: {choice.watch} just at {show(choice.limit, 'temperature', system)}")
        table(head, _snaps(choice, system))
        paragraph("The whole weather of the case is shifted, the days before included; the fire is the same.")
    print_cautions(choice.found, system)
    print_advice(in_full=False)


def _lows(choice: FanChoice) -> list[tuple[str, list[float | None]]]:
    rows: list[tuple[str, list[float | None]]] = []
    for words, measure in (
        ("room, lowest", "room"), ("floor, mean, lowest", "floor"), ("floor, coldest place", "coldest floor"),
        ("exit air, lowest", "exit"), ("tank, lowest", "tank"),
    ):  # fmt: skip
        if any(measure in night.course.values for night in choice.nights):
            rows.append((words, [night.low(measure) for night in choice.nights]))
    rows.append(("outside, lowest", [night.low("outside") for night in choice.nights]))
    return rows


def _times(choice: FanChoice) -> list[tuple[str, ...]]:
    names = {
        "room": "room",
        "floor": "floor_mean",
        "coldest floor": "floor_coldest_place",
        "exit": "exit_air",
    }
    rows = []
    for words, name in names.items():
        lows = [night.night.lows[name] for night in choice.nights]
        rows.append((words, *("-" if low is None else f"{low.at:%d %b %H:%M}" for low in lows)))
    if any(night.tank is not None for night in choice.nights):
        tanks = [night.tank for night in choice.nights]
        rows.append(("tank", *("-" if tank is None else f"{tank[1]:%d %b %H:%M}" for tank in tanks)))
    return rows


def _balance(choice: FanChoice, system: System) -> list[tuple[str, ...]]:
    from simulator.case.units import show

    nights, off = choice.nights, choice.named("off")

    def heat(value: float) -> str:
        return show(value, "energy", system)

    rows: list[tuple[str, ...]] = [
        ("fan runs", *(f"{night.fan_hours:.1f} h" for night in nights)),
        ("starts and stops", *(str(night.switches) for night in nights)),
        ("electricity", *(f"{night.fan_energy / 3.6e6:.2f} kWh" for night in nights)),
    ]
    if choice.price is not None:
        price = choice.price
        rows.append(("costs", *(price.of(night.fan_energy) for night in nights)))
    rows += [
        ("heat to the room", *(heat(night.to_room) for night in nights)),
        ("more than with it off", *(heat(night.to_room - off.to_room) for night in nights)),
        ("per unit of electricity", *(_gain(night, off) for night in nights)),
        ("ground under the floor", *(heat(night.night.heat.under_floor_change) for night in nights)),
    ]
    return rows


def _gain(night: object, off: object) -> str:
    spent = night.fan_energy - off.fan_energy  # type: ignore[attr-defined]
    return "-" if spent <= 0.0 else f"{(night.to_room - off.to_room) / spent:.1f}"  # type: ignore[attr-defined]


def _snaps(choice: FanChoice, system: System) -> list[tuple[str, ...]]:
    from simulator.case.units import show

    rows: list[list[str]] = [["outside low"], ["against tonight"]]
    for night in choice.nights:
        snap = choice.snaps.get(night.name)
        if snap is None or snap.shift is None or snap.outside_low is None:
            rows[0].append("-")
            rows[1].append("out of reach")
            continue
        rows[0].append(show(snap.outside_low + KELVIN_AT_0_DEGC, "temperature", system))
        size = show(abs(snap.shift), "temperature difference", system)
        rows[1].append(f"{size} {'colder' if snap.shift < 0.0 else 'warmer'}")
    return [tuple(row) for row in rows]


def _price(text: str | None) -> Price | None:
    from simulator.answers.fan_choice import Price
    from simulator.errors import CaseError

    if text is None:
        return None
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*([^\W\d]{0,12}|[€$£¥])\s*(?:/\s*kWh)?\s*", text)
    if match is None:
        raise CaseError(
            "is no price of a kilowatt-hour", key="--price", value=text, fix='write "0.18 USD", or 0.18'
        )
    return Price(float(match[1]), match[2])
