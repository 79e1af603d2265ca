"""`ductfloor vary`: the same case with other lengths, flows, depths, weather ... and what becomes of it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from simulator.cli.guard import BAD_INPUT, FAILED, STOPPED, complain, guarded

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.plans import Plan
    from simulator.answers.vary import Varied
    from simulator.answers.workers import Pool
    from simulator.case.schema import Case
    from simulator.case.units import System

__all__ = ["vary", "with_settings"]

WORTH_A_POOL = 12
"""Runs from which on processes are started before the first run has told how long it takes."""
USUAL = ("lowest floor", "lowest room", "lowest exit air", "heat into the floor", "kept", "worst caution")


@guarded
def vary(
    case_file: Annotated[Path | None, typer.Argument(metavar="CASE", help="Case file.")] = None,
    changes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar='"KEY = VALUES" ...',
            help='A key and its values: "10 ft..60 ft in 6 steps", "300..600 cfm in steps of 50", "4, 6, 8", '
            '"room, outside". Keys with commas between them take the same value.',
        ),
    ] = None,
    output: Annotated[
        list[str] | None,
        typer.Option("--output", "-o", help="An answer to show, by its name; several times. See --outputs."),
    ] = None,
    outputs: Annotated[bool, typer.Option("--outputs", help="List all answers and stop.")] = False,
    one_at_a_time: Annotated[
        bool, typer.Option("--one-at-a-time", help="Change one key at a time, the others stay as they are.")
    ] = False,
    sample: Annotated[
        int | None, typer.Option(metavar="N", help="Take N points spread evenly over all ranges.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Which sample.")] = 0,
    spread: Annotated[
        bool, typer.Option("--spread", help="Spread ducts over the floor's width as their number changes.")
    ] = False,
    fixed: Annotated[
        list[str] | None,
        typer.Option("--set", metavar='"KEY = VALUE"', help="Change a key for all runs; several times."),
    ] = None,
    night: Annotated[int | None, typer.Option(help="Which night the answers are about; -1 the last.")] = None,
    jobs: Annotated[
        int | None, typer.Option("--jobs", "-j", help="Processes; left out: one for each core.")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Run on a Dask cluster, such as tcp://host:8786.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Begin of the names of what is written. Left out: CASE-vary in this folder."),
    ] = None,
    keep_results: Annotated[
        bool, typer.Option("--keep-results", help="Write a results file for every run too.")
    ] = False,
    chart: Annotated[bool, typer.Option("--chart/--no-chart", help="Draw a chart.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print the table as JSON.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is shown.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")] = False,
) -> None:
    """Run a case over and over with changed keys; table, chart and files of what comes out.

    Broken off with ctrl-C, the same command goes on where it was.
    """
    if outputs:
        _list_outputs(json=json)
        return
    if case_file is None:
        complain("a case file is missing; see ductfloor vary --help")
        raise typer.Exit(BAD_INPUT)
    from simulator.case.loader import load

    case = with_settings(load(case_file), fixed or [])
    plan = _plan(case, changes or [], one_at_a_time=one_at_a_time, sample=sample, seed=seed)
    if jobs is not None and jobs < 1:
        complain(f"--jobs {jobs}: must be 1 or more")
        raise typer.Exit(BAD_INPUT)
    stem = out or Path(f"{case_file.stem}-vary")
    system: System = "US" if (units or case.output.units) == "US" else "SI"
    with _pool(len(plan.values), jobs, cluster) as pool:
        # Loaded only now, while the processes get ready.
        from simulator.answers.many_runs import Broken, Runner
        from simulator.answers.members import Span
        from simulator.answers.outputs import output_named
        from simulator.answers.vary import vary as carry_out
        from simulator.cli.screen import progress_bar
        from simulator.store.kept_members import KeptMembers

        chosen = list({each.name: each for each in map(output_named, output or USUAL)}.values())
        kept = KeptMembers(stem.with_name(f"{stem.name}-kept"))
        runner = Runner(kept, jobs=jobs, cluster=cluster, pool=pool)
        with progress_bar(f"{len(plan.values)} runs", wanted=not quiet) as bar:
            try:
                varied = carry_out(
                    case, plan, chosen, runner, span=Span(night=night),
                    results=stem if keep_results else None, spread=spread,
                    told=None if bar is None else lambda done, total: bar(done / max(total, 1)),
                )  # fmt: skip
            except Broken as broken:
                stopped: Broken | None = broken
            else:
                stopped = None
    if stopped is not None:
        complain(
            f"stopped after {stopped.done} of {stopped.total} runs, which are kept in {stem.name}-kept; "
            "the same command goes on from there"
        )
        raise typer.Exit(STOPPED)
    _hand_over(varied, stem, system, chart=chart, json=json, quiet=quiet)


def _hand_over(varied: Varied, stem: Path, system: System, *, chart: bool, json: bool, quiet: bool) -> None:
    """Write and print what came out; end with an error when every run failed."""
    from simulator.cli.screen import print_json

    written = _written(varied, stem, system, chart=chart)
    if json:
        print_json({**varied.as_data(), "files": [str(path) for path in written]})
    elif not quiet:
        _print(varied, system)
        typer.echo("\nwrote " + ", ".join(str(path) for path in written))
    if varied.rows and len(varied.failed) == len(varied.rows):
        complain("every run failed: " + varied.failed[0].outcome.error)
        raise typer.Exit(BAD_INPUT if varied.failed[0].outcome.bad_input else FAILED)


@contextmanager
def _pool(members: int, jobs: int | None, cluster: str | None) -> Iterator[Pool | None]:
    """Start processes early when there is enough to do for them."""
    from simulator.answers.cores import local_cores
    from simulator.answers.workers import Pool

    count = min(jobs or local_cores(), members)
    if cluster is not None or count < 2 or (jobs is None and members < WORTH_A_POOL):
        yield None
        return
    pool = Pool(count)
    try:
        yield pool
    finally:
        pool.close(at_once=True)


def with_settings(case: Case, fixed: list[str]) -> Case:
    """Return a case with keys changed by `--set`."""
    from simulator.case.changed import changed
    from simulator.case.ranges import setting

    changes: dict[str, object] = {}
    for text in fixed:
        keys, value = setting(case, text)
        changes.update(dict.fromkeys(keys, value))
    return changed(case, changes) if changes else case


def _plan(case: Case, changes: list[str], *, one_at_a_time: bool, sample: int | None, seed: int) -> Plan:
    from simulator.answers.plans import Way, plan_of
    from simulator.case.ranges import variation
    from simulator.errors import DuctfloorError

    if one_at_a_time and sample is not None:
        raise DuctfloorError("--one-at-a-time and --sample: give one or the other")
    way: Way = "one at a time" if one_at_a_time else "grid" if sample is None else "sample"
    return plan_of([variation(case, text) for text in changes], way, count=sample or 1, seed=seed)


def _written(varied: Varied, stem: Path, system: System, *, chart: bool) -> list[Path]:
    from simulator.store.tables import write_csv, write_hdf5, write_json

    def named(ending: str) -> Path:
        return stem.with_name(stem.name + ending)

    written = [
        write_csv(varied.columns(system), named(".csv")),
        write_json(varied.as_data(), named(".json")),
        write_hdf5(varied.columns(), varied.about(), named(".h5")),
    ]
    if chart and len(varied.failed) < len(varied.rows):
        from simulator.look.save import save
        from simulator.look.vary_chart import vary_chart

        figure = vary_chart(varied, units=system)
        if figure is not None:
            written.append(save(figure, named(".png")))
    return written


def _print(varied: Varied, system: System) -> None:
    from simulator.answers.outputs import shown
    from simulator.cli.screen import heading, one_line, paragraph
    from simulator.cli.wide_table import print_wide_table

    typer.echo(one_line(varied.title or varied.case))
    again = f", {varied.found} of them known from before" if varied.found else ""
    ways = {"grid": "every value with every other", "one at a time": "one key at a time",
            "sample": "points spread evenly over the ranges"}  # fmt: skip
    typer.echo(f"{len(varied.rows)} runs{again}: {ways[varied.way]}")
    typer.echo()
    head = ["", *(each.name for each in varied.variations), *(each.name for each in varied.outputs)]
    body = []
    bad: dict[int, str] = {}
    for number, row in enumerate(varied.rows):
        cells = [str(number + 1), *("as is" if value is None else str(value) for value in row.values)]
        if row.outcome.error:
            bad[number] = "bad"
            cells += ["failed" if place == 0 else "" for place in range(len(varied.outputs))]
        else:
            cells += [shown(row.outcome.values[each.name], each.dimension, system) for each in varied.outputs]
        body.append(cells)
    first = 1 + len(varied.variations)
    words = {first + place for place, each in enumerate(varied.outputs) if not each.numeric}
    print_wide_table(head, body, words=frozenset(words), marked=bad)
    _print_correlation(varied)
    if bad:
        heading("Runs that failed")
        reasons: dict[str, list[str]] = {}
        for number in bad:
            reasons.setdefault(varied.rows[number].outcome.error, []).append(str(number + 1))
        for reason, numbers in reasons.items():
            paragraph(f"{', '.join(numbers)}: {reason}", rest="     ")


def _print_correlation(varied: Varied) -> None:
    """Print how strongly each key moves each output, for a sample."""
    from simulator.answers.vary import rank_correlation
    from simulator.cli.screen import heading, paragraph, table

    chosen: list[Output] = [each for each in varied.outputs if each.numeric]
    if varied.way != "sample" or not chosen or len(varied.rows) < 8:
        return
    heading("How strongly each key moves each answer (rank correlation, -1 to 1)")
    found = [rank_correlation(varied, each) for each in chosen]
    table(
        ("", *(each.name for each in chosen)),
        [
            (variation.name, *("-" if one[place] is None else f"{one[place]:+.2f}" for one in found))
            for place, variation in enumerate(varied.variations)
        ],
    )
    chance = 2.0 / (len(varied.rows) - len(varied.failed)) ** 0.5
    paragraph(f"By chance alone it stays within {chance:.2f} for most samples of this size.")


def _list_outputs(*, json: bool) -> None:
    from simulator.answers.outputs import OUTPUTS, PATTERNS, unit_of
    from simulator.cli.screen import heading, print_json, rows

    if json:
        print_json(
            {
                output.name: {"unit": unit_of(output.dimension)[0], "meaning": output.meaning}
                for output in OUTPUTS.values()
            }
            | {
                name: {"unit": unit_of(kind)[0], "meaning": meaning}
                for name, (kind, meaning) in PATTERNS.items()
            }
        )
        return
    heading("Answers")
    rows((name, _with_unit(output.meaning, output.dimension)) for name, output in OUTPUTS.items())
    heading("Answers that take a measure along")
    rows((name, _with_unit(meaning, kind)) for name, (kind, meaning) in PATTERNS.items())


def _with_unit(meaning: str, dimension: str) -> str:
    from simulator.answers.outputs import unit_of

    units = list(dict.fromkeys(unit_of(dimension, system)[0] for system in ("SI", "US")))
    if units in ([""], ["1"]):
        return meaning
    return f"{meaning} [{' or '.join(units)}]"
