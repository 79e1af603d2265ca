"""`ductfloor size`: the smallest ducts, fan or fire that do what is wanted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from simulator.cli.guard import STOPPED, complain, guarded

if TYPE_CHECKING:
    from simulator.answers.needs import Need
    from simulator.answers.size import Design, Question, Sized
    from simulator.case.schema import Case
    from simulator.case.units import System

__all__ = ["size"]


@guarded
def size(
    case_file: Annotated[Path, typer.Argument(metavar="CASE", help="Case file.")],
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"KEY = VALUES"', help="What may be changed, as `vary` takes it; several times."
        ),
    ] = None,
    want: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"ANSWER at least VALUE"',
            help="What it is for; several times. Answers: ductfloor vary --outputs.",
        ),
    ] = None,
    limit: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"ANSWER at most VALUE"',
            help="What must not be passed: an answer, or pipe, trench, "
            "ducts, price. The ducts' service temperature always holds.",
        ),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"PART = PRICE"', help='Price: "pipe = 4.20/ft", "trench = $9/m", "duct = 35 each".'
        ),
    ] = None,
    targets: Annotated[Path | None, typer.Option(help="All of this in a TOML file.")] = None,
    smallest: Annotated[
        str | None,
        typer.Option(help="What is to be small: price, pipe, trench, ducts, or a key that is changed."),
    ] = None,
    spread: Annotated[
        bool, typer.Option("--spread", help="Spread ducts over the floor's width as their number changes.")
    ] = False,
    fixed: Annotated[
        list[str] | None,
        typer.Option("--set", metavar='"KEY = VALUE"', help="Change a key for all designs; several times."),
    ] = None,
    night: Annotated[
        int | None, typer.Option(help="The design night; -1 the last. Left out: the last.")
    ] = None,
    curve: Annotated[int, typer.Option(min=0, max=100, help="Designs of the trade-off curve.")] = 6,
    most_runs: Annotated[int, typer.Option(min=3, help="Runs after which to stop searching.")] = 200,
    write: Annotated[
        Path | None, typer.Option(metavar="CASE", help="Write the best design as a case.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Begin of the names of what is written. Left out: CASE-size here.")
    ] = None,
    chart: Annotated[bool, typer.Option("--chart/--no-chart", help="Draw the trade-off curve.")] = True,
    json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
    units: Annotated[
        Literal["SI", "US"] | None, typer.Option(case_sensitive=False, help="Units of what is shown.")
    ] = None,
) -> None:
    """Find the smallest design that meets what is wanted; margins, near misses, and what more would buy.

    A targets file holds the same as the options: change and set (lists of texts), smallest, spread, and the
    tables want, limit and price: [want] "lowest floor" = "at least 42 degF".
    """
    from simulator.answers.many_runs import Broken, Runner
    from simulator.answers.members import Span
    from simulator.answers.size import size as find
    from simulator.case.loader import load
    from simulator.cli.screen import print_json, progress_bar, system_named
    from simulator.cli.vary import with_settings
    from simulator.store.kept_members import KeptMembers
    from simulator.store.tables import write_json

    asked = _merged(targets, change or [], want or [], limit or [], price or [], fixed or [])
    case = with_settings(load(case_file), asked["set"])
    question = _question(case, asked, smallest, spread=spread)
    stem = out or Path(f"{case_file.stem}-size")
    runner = Runner(KeptMembers(stem.with_name(f"{stem.name}-kept")), jobs=1)
    system = system_named(units, case.output.units)
    done = 0
    with progress_bar("searching", wanted=not json) as bar:

        def told(count: int) -> None:
            nonlocal done
            done = count
            if bar is not None:
                # Nobody knows how many runs it will take: nearer and nearer to the end.
                bar(1.0 - 0.9 ** (0.3 * count))

        try:
            sized = find(
                case, question, runner, span=Span(night=night), most_runs=most_runs, curve=curve, told=told
            )
        except Broken:
            complain(
                f"stopped after {done} runs, which are kept in {stem.name}-kept; the same command goes on"
            )
            raise typer.Exit(STOPPED) from None
    written = [write_json(_plain(sized), stem.with_name(f"{stem.name}.json"))]
    if chart:
        from simulator.look.save import save
        from simulator.look.trade_off import trade_off_chart

        figure = trade_off_chart(sized, case.title, units=system)
        if figure is not None:
            written.append(save(figure, stem.with_name(f"{stem.name}.png")))
    if write is not None and sized.best is not None:
        written.append(_write_case(sized.best, write))
    if json:
        print_json({**sized.as_data(), "files": [str(path) for path in written]})
        return
    _print(case, sized, system)
    typer.echo("\nwrote " + ", ".join(map(str, written)))


_KEYS = ("change", "set", "smallest", "spread", "want", "limit", "price")


def _merged(
    targets: Path | None,
    change: list[str],
    want: list[str],
    limit: list[str],
    price: list[str],
    fixed: list[str],
) -> dict[str, Any]:
    """Put a targets file and the options together; options add to it."""
    from simulator.answers.needs import as_texts
    from simulator.case.nearest import nearest
    from simulator.errors import CaseError

    data = {} if targets is None else _read_targets(targets)
    file = None if targets is None else str(targets)
    for key, value in data.items():
        if key not in _KEYS:
            raise CaseError(
                f"unknown key {key!r}", file=file, allowed=", ".join(_KEYS), fix=nearest(key, _KEYS)
            )
        kind = {"change": list, "set": list, "smallest": str, "spread": bool}.get(key, dict)
        if not isinstance(value, kind):
            shape = {list: "a list of texts", str: "text", bool: "true or false", dict: "a table"}[kind]
            raise CaseError(f"must be {shape}", file=file, key=key)
    prices = dict(data.get("price", {}))
    for text in price:
        name, equals, value = text.partition("=")
        if not equals:
            raise CaseError("is no price", key="price", value=text, fix='write it like "pipe = 4.20/ft"')
        prices[name.strip()] = value.strip()
    return {
        "change": [*map(str, data.get("change", [])), *change],
        "set": [*map(str, data.get("set", [])), *fixed],
        "want": [*as_texts(data.get("want", {})), *want],
        "limit": [*as_texts(data.get("limit", {})), *limit],
        "price": prices,
        "smallest": data.get("smallest"),
        "spread": data.get("spread", False),
    }


def _read_targets(path: Path) -> dict[str, Any]:
    from simulator.case.loader import text_of_file
    from simulator.case.toml_reading import read_toml

    return read_toml(text_of_file(path, "a file of targets"), str(path))


def _question(case: Case, asked: dict[str, Any], smallest: str | None, *, spread: bool) -> Question:
    from simulator.answers.costs import prices_from
    from simulator.answers.needs import needs_from
    from simulator.answers.size import question_of, service_limit
    from simulator.case.ranges import variation

    needs = needs_from(asked["want"], asked["limit"])
    if not any(need.name == "hottest duct" and need.sense < 0 for need in needs):
        needs.append(service_limit(case))
    return question_of(
        [variation(case, text) for text in asked["change"]],
        needs,
        smallest=smallest or asked["smallest"],
        prices=prices_from(asked["price"]) if asked["price"] else None,
        spread=spread or asked["spread"],
    )


def _plain(sized: Sized) -> dict[str, Any]:
    from simulator.cli.screen import plain

    data: dict[str, Any] = plain(sized.as_data())
    return data


def _write_case(design: Design, path: Path) -> Path:
    from simulator.case.changed import moved_text
    from simulator.errors import StoreError

    try:
        path.write_text(moved_text(design.case, path.parent), encoding="utf-8")
    except OSError as error:
        raise StoreError(f"cannot be written: {error.strerror or error}", path=str(path)) from None
    return path


def _print(case: Case, sized: Sized, system: System) -> None:
    from simulator.cli.screen import heading, one_line, paragraph, rows, table

    question = sized.question
    typer.echo(one_line(case.title or str(case.source_path)))
    paragraph(_story(sized), first="")
    best = sized.best
    if best is not None:
        heading("Best design")
        rows(
            [(each.name, str(value)) for each, value in zip(question.variations, best.values, strict=True)]
            + [(name, _measure(name, value, sized, system)) for name, value in _measures(best, sized)]
        )
        heading("How it meets what is asked")
        table(
            ("", "reached", "margin"),
            [
                (
                    need.text,
                    _value(need, best.value(need), sized, system),
                    _margin(need, margin, sized, system),
                )
                for need, margin in zip(question.needs, best.margins, strict=True)
            ],
        )
        if best.outcome is not None:
            paragraph(f"Gravest caution of this design: {best.outcome.values.get('worst caution')}.")
    if sized.near_misses:
        heading("Near misses, cheaper" if best is not None else "Nearest to what is asked")
        _designs(sized, sized.near_misses, system)
    if len(sized.curve) > 1:
        heading(f"What more buys, by {question.smallest}")
        _designs(sized, sized.curve, system)
    for words in sized.crossed:
        heading("Not one-way")
        paragraph(f"{words[:1].upper()}{words[1:]}: no design was ruled out by that need along that key.")
    if sized.impossible:
        heading("Cannot be built")
        paragraph(
            f"{sized.impossible} of {sized.candidates} designs, the first because: {sized.why_impossible}"
        )
    paragraph(
        "A design here is an estimate: have heater, flue and wiring done by licensed people, and fit carbon "
        "monoxide alarms.", first="\n",
    )  # fmt: skip


def _story(sized: Sized) -> str:
    said = f"{sized.candidates} designs, {sized.runs} runs to search them"
    if sized.more_runs:
        said += f" and {sized.more_runs} more for the curve"
    if sized.without_run:
        said += f"; {sized.without_run} ruled out by what they take"
    said += ". "
    if sized.best is None:
        end = (
            "No design meets everything that is asked."
            if sized.proven
            else "None was found that meets everything."
        )
        return said + end
    if sized.proven:
        return (
            said
            + "Every cheaper design misses a need: it was run, or is no better in that need than one that "
            "was, if needs only rise or only fall with a key, as they did in all runs."
            if not sized.crossed
            else said + "Every cheaper design misses a need."
        )
    return said + "The search stopped before every cheaper design was ruled out: allow more with --most-runs."


def _measures(design: Design, sized: Sized) -> list[tuple[str, float]]:
    from simulator.answers.costs import Prices

    priced = sized.question.prices != Prices()
    return [(name, value) for name, value in design.measures.items() if name != "price" or priced]


def _measure(name: str, value: float, sized: Sized, system: System) -> str:
    from simulator.case.units import show

    if name == "price":
        return sized.question.prices.text(value)
    return f"{value:.0f}" if name == "ducts" else show(value, "length", system)


def _value(need: Need, value: float | None, sized: Sized, system: System) -> str:
    from simulator.answers.outputs import shown

    if need.dimension == "money":
        return "-" if value is None else sized.question.prices.text(value)
    return shown(value, need.dimension, system)


def _margin(need: Need, margin: float | None, sized: Sized, system: System) -> str:
    from simulator.answers.outputs import shown

    if margin is None:
        return "-"
    if need.dimension == "money":
        text = sized.question.prices.text(abs(margin))
    else:
        kind = "temperature difference" if need.dimension == "temperature" else need.dimension
        text = shown(abs(margin), kind, system)
    return f"{'+' if margin >= 0.0 else '-'}{text}"


def _designs(sized: Sized, designs: list[Design], system: System) -> None:
    from simulator.cli.wide_table import print_wide_table

    question = sized.question
    needs = list(question.needs)
    head = [*(each.name for each in question.variations)]
    measure = question.smallest if question.smallest in ("pipe", "trench", "ducts", "price") else None
    if measure is not None:
        head.append(measure)
    head += [*(need.name for need in needs), "misses"]
    body = []
    marked = {}
    for number, design in enumerate(designs):
        cells = [str(value) for value in design.values]
        if measure is not None:
            cells.append(_measure(measure, design.measures[measure], sized, system))
        cells += [_value(need, design.value(need), sized, system) for need in needs]
        missed = [
            need.name
            for need, margin in zip(needs, design.margins, strict=True)
            if margin is None or margin < 0.0
        ]
        cells.append(", ".join(missed) or ("(best)" if design is sized.best else "nothing"))
        if design is sized.best:
            marked[number] = "best"
        body.append(cells)
    print_wide_table(head, body, words=frozenset({len(head) - 1}), marked=marked)
