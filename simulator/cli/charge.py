"""`ductfloor charge`: how full the floor is, and where the next hour of fire is best spent."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.first_time import told_if_first
from simulator.cli.guard import guarded

if TYPE_CHECKING:
    from simulator.answers.charge import Charge
    from simulator.case.schema import Case
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["EXAMPLES", "charge"]

KELVIN_AT_0_DEGC = 273.15
EXAMPLES = """Examples:

  ductfloor charge shed.toml

  ductfloor charge shed.h5 --case cases/shed.toml --at "22:00" --share 0.7

  ductfloor charge shed.h5 --carry-to "50 degF" --ahead "10 days" --json
"""


@guarded
def charge(
    file: Annotated[
        Path, typer.Argument(metavar="RESULTS or CASE", help="Results file of a run, or a case file to run.")
    ],
    case_file: Annotated[
        Path | None,
        typer.Option("--case", help="Case file of the results, where files that it names cannot be found."),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(help='Moment to look at: "2031-01-16 06:00", "06:00" or "+6 h". Left out: the end.'),
    ] = None,
    share: Annotated[
        float,
        typer.Option(min=0.05, max=1.0, help="Saturated is a floor that takes less than this of a cold one."),
    ] = 0.8,
    carry_to: Annotated[
        str | None,
        typer.Option(help="Floor temperature to carry it to. Left out: 1 K above a floor never used."),
    ] = None,
    ahead: Annotated[str, typer.Option(help="How far to look ahead, if the weather reaches.")] = "7 days",
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Picture to write. Left out: NAME-charge.png.")
    ] = None,
    picture: Annotated[bool, typer.Option("--picture/--no-picture", help="Write a picture.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is printed.")
    ] = None,
) -> None:
    """Say how full the floor is, how long its heat lasts, and whether to burn for another hour."""
    from simulator.cli.moments import moment_typed, quantity_typed
    from simulator.cli.screen import print_advice, print_cautions, print_json, progress_bar, system_named

    with ExitStack() as stack:
        results, case = _opened(file, case_file, stack)
        from simulator.answers.cautions import cautions
        from simulator.answers.charge import charge as look

        mark = None
        if carry_to is not None:
            mark = quantity_typed(carry_to, "temperature", "--carry-to") - KELVIN_AT_0_DEGC
        with progress_bar(file.stem) as progress:
            found = look(
                results, case, at=None if at is None else moment_typed(results, at, "--at"), share=share,
                carried_to=mark, ahead=quantity_typed(ahead, "time", "--ahead"), progress=progress,
            )  # fmt: skip
        system = system_named(units, case.output.units)
        warned = cautions(results)
    written = []
    if picture or out is not None:
        from simulator.look.charge_chart import charge_chart
        from simulator.look.save import save

        target = out or Path(f"{file.stem}-charge.png")
        written.append(save(charge_chart(found, units=system), target))
    if json:
        told = {**found.as_dict(), "title": case.title, "files": [str(path) for path in written]}
        print_json({**told, "cautions": [caution.as_dict() for caution in warned]})
        return
    _print(found, system)
    print_cautions(warned, system)
    print_advice(in_full=False)
    if written:
        typer.echo(f"\nwrote {', '.join(map(str, written))}")


def _opened(file: Path, case_file: Path | None, stack: ExitStack) -> tuple[Results, Case]:
    """Open results, or run a case; the case that belongs to them."""
    from simulator.case.kept_text import case_of_text
    from simulator.case.loader import load
    from simulator.errors import CaseError

    if file.suffix.lower() == ".toml":
        case = load(file)
        from simulator.store.record import record

        with told_if_first(case):
            return stack.enter_context(record(case)), case
    from simulator.store.provenance import input_hash
    from simulator.store.reader import Results

    results = stack.enter_context(Results(file))
    # Names of files in a case count from its folder: where it was at the run, or where results were taken.
    folders = [file.parent, Path()] if case_file is None else [case_file.parent]
    remembered = str(results.attrs.get("case_folder", ""))
    if case_file is None and remembered:
        folders.insert(0, Path(remembered))
    others = None
    for folder in folders:
        case = case_of_text(results.case_text, folder)
        if all(path.is_file() for path in case.referenced_files):
            if case_file is not None or input_hash(case) == results.attrs["input_hash"]:
                return results, case
            others = others or case.referenced_files[0]
    fix = "give --case with the place of the case file, or the case file instead of the results"
    if others is not None:
        raise CaseError(
            f"a file that the case of these results names is no longer what it was at the run: {others}",
            file=str(file), fix=f"run the case again; or {fix}",
        )  # fmt: skip
    missing = next(path for path in case.referenced_files if not path.is_file())
    raise CaseError(
        f"the case of these results names a file that is not there: {missing}", file=str(file), fix=fix
    )


def _print(found: Charge, system: System) -> None:
    from simulator.case.units import show
    from simulator.cli.screen import heading, one_line, paragraph, rows

    def heat(value: float) -> str:
        return show(value, "energy", system)

    def part(value: float | None) -> str:
        return "no fire" if value is None else f"{100.0 * value:.0f} %"

    def length(value: float | None) -> str:
        return "nowhere" if value is None else show(value, "length", system)

    def span(value: float | None, never: str) -> str:
        return never if value is None else show(value, "time", system)

    def warm(celsius: float) -> str:
        return show(celsius + KELVIN_AT_0_DEGC, "temperature", system)

    def cold(value: float | None) -> str:
        return "" if value is None else f" ({100.0 * value:.0f} % on a cold floor)"

    typer.echo(one_line(found.case.title))
    typer.echo(f"{found.when:%Y-%m-%d %H:%M}")
    typer.echo()
    paragraph(_answer(found, system), first="")
    heading("Charge")
    rows(
        [
            ("Counted above", found.reference),
            ("Held under the floor", heat(found.held)),
            ("Held in all ground", heat(found.held_everywhere)),
            ("Nine tenths of it lie above", length(found.depths.ninety)),
            (
                "Heat has gone down to",
                f"{length(found.depths.reached)} (a tenth of the warming is left there)",
            ),
        ]
    )
    heading("Uptake: what the ground takes of the heat put in")
    rows(
        [
            ("First hour of fire", part(found.uptake.first)),
            ("Last hour of fire", part(found.uptake.last)),
            ("First hour on a cold floor", part(found.cold_uptake.first)),
        ]
    )
    not_within = f"not within {show(found.ahead, 'time', system)}"
    if found.ahead > 0.0:
        heading("From now on")
        told = []
        if found.hour is not None and found.hour.tank_kept is None:
            after = "at once" if found.saturated_after == 0.0 else span(found.saturated_after, not_within)
            mark = f"uptake under {100.0 * found.share:.0f} % of the cold floor's"
            told.append(("Saturated after", f"{after} (fire kept burning, {mark})"))
        carried = (
            "1 K above a floor never used"
            if found.carried_to is None
            else show(found.carried_to + KELVIN_AT_0_DEGC, "temperature", system)
        )
        told += [
            ("Carries the floor for", f"{span(found.carried, not_within)} (without fire, down to {carried})"),
            ("Half of it is gone after", f"{span(found.half_gone, not_within)} (charge under the floor)"),
        ]
        rows(told)
    heading("The next hour of fire")
    if found.hour is None:
        paragraph(found.why_not)
        return
    hour = found.hour
    later = show(hour.later, "time", system)
    rows(
        [
            ("Best spent", hour.best),
            ("Because", hour.reason),
            ("Heat put in", heat(hour.heat)),
            (f"Under the floor after {later}", f"{100.0 * hour.kept:.0f} %{cold(hour.cold_kept)}"),
            *(
                []
                if hour.tank_kept is None
                else [(f"In the tank after {later}", f"{100.0 * hour.tank_kept:.0f} % with the pump running")]
            ),
            (f"Floor warmer after {later}", show(hour.floor_warmer, "temperature difference", system)),
            (f"Room warmer after {later}", show(hour.room_warmer, "temperature difference", system)),
            ("Taken by the ground at once", f"{100.0 * hour.uptake:.0f} %{cold(hour.cold_uptake)}"),
            ("Hottest air into the ducts", warm(hour.hottest_supply)),
        ]
    )  # fmt: skip


def _answer(found: Charge, system: System) -> str:
    """Say it in two sentences."""
    from simulator.case.units import show

    held = show(abs(found.held), "energy", system)
    side = "more" if found.held >= 0.0 else "less"
    said = f"The floor and the ground under it hold {held} {side} than had the ducts never been used"
    if found.carried is not None and found.carried > 0.0:
        said += f"; without fire that carries the floor for {show(found.carried, 'time', system)}"
    said += "."
    if found.hour is not None:
        said += f" The next hour of fire: {found.hour.best}, because {found.hour.reason}."
    return said
