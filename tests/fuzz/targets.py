"""What is fed with broken input: one function per format, with good inputs and a way to break them.

Each target takes bytes and must either accept them or raise the error of the project, in one line, which it
hands back. Anything else is a finding.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from simulator.case.loader import load, load_text, starter_text
from simulator.case.schema import Case
from simulator.errors import CaseError, DuctfloorError
from tests.fuzz import seeds, targets_store
from tests.fuzz.breaking import (
    Breaker,
    break_archive,
    break_bytes,
    break_json,
    break_results,
    break_sealed,
    break_text,
)
from tests.fuzz.seeds import ROOT, place
from tests.fuzz.told import told

Target = Callable[[bytes], DuctfloorError | None]


@dataclass(frozen=True)
class Format:
    """One kind of input.

    Attributes
    ----------
    target : callable
        Takes the bytes; hands back the error with which they were refused.
    seeds : tuple of bytes
        Inputs that are good.
    breaker : callable
    longest : int
        Bytes that an input may have.
    """

    target: Target
    seeds: tuple[bytes, ...]
    breaker: Breaker
    longest: int


@cache
def _folder_of_cases() -> Path:
    """Folder from which the cases find their weather."""
    folder = place() / "cases"
    folder.mkdir()
    (place() / "shared").symlink_to(ROOT / "shared")
    return folder


def read_case(data: bytes) -> DuctfloorError | None:
    """A case file, up to everything that is worked out before a run begins."""
    from simulator.case.inputs import inputs
    from simulator.run.sizes import check_steps

    path = _folder_of_cases() / "case.toml"
    path.write_bytes(data)
    try:
        case = load(path)
        if not (math.isfinite(case.floor.area) and case.timetable_compiled.end > 0):
            raise AssertionError("a case was accepted that has no extent")
        check_steps(case)
        inputs(case)
    except CaseError as error:
        return told(error)
    return None


@cache
def starter() -> Case:
    """The case that ships with the program."""
    return load_text(starter_text())


@cache
def _case_with(weather: str, start: str = "2031-01-15T18:00:00") -> Case:
    """Case of half a day with such weather; made once, because only the weather is read anew."""
    for name in ("log.csv", "year.csv", "wide.csv"):
        (place() / name).touch()
    text = starter_text()
    begin = text.index("[weather]")
    end = text.index("\n[", begin + 1)
    text = text[:begin] + weather + text[end:]
    text = re.sub(r"(?m)^start = \d.*", f"start = {start}", text, count=1)
    return load_text(re.sub(r"(?m)^duration = .*", 'duration = "12 h"', text, count=1), folder=place())


def _weather(data: bytes, name: str, case: Case) -> DuctfloorError | None:
    from simulator.climate.weather import from_case

    (place() / name).write_bytes(data)
    try:
        weather = from_case(case)
    except CaseError as error:
        return told(error)
    ticks = np.arange(-48, 12, 3, dtype=np.int64) * 3_600_000
    found = [weather.temperature_at(ticks), weather.sun_at(ticks), weather.mean_sun(ticks[:-1], ticks[1:])]
    more = (weather.humidity, weather.wind, weather.cloud, weather.beam, weather.diffuse)
    found += [series.at(ticks) for series in more if series is not None]
    together = np.concatenate(found)
    # Means come from differences of integrals, so nothing may be a rounding error below nothing.
    if not np.isfinite(together).all() or together.min() < -1e-9:
        raise AssertionError("weather that cannot be")
    return None


CSV_TABLE = """[weather]
kind = "csv"
file = "log.csv"
columns.time = {column = "when"}
columns.temperature = {column = "out", unit = "degF"}
columns.sun = {column = "sun", unit = "W/m2"}
"""
WIDE_TABLE = """[weather]
kind = "csv"
file = "wide.csv"
columns.time = {column = "h", unit = "h"}
columns.temperature = {column = "out", unit = "degC"}
columns.sun = {column = "sun"}
columns.beam = {column = "beam"}
columns.diffuse = {column = "diffuse"}
columns.humidity = {column = "rh", unit = "%"}
columns.wind = {column = "wind", unit = "m/s"}
columns.cloud = {column = "cloud", unit = "tenths"}
"""


YEAR_START = "2031-02-10T18:00:00"


def read_csv(data: bytes) -> DuctfloorError | None:
    """A table of weather; one headed by hours is read for every column there may be."""
    if data.startswith(b"h,"):
        return _weather(data, "wide.csv", _case_with(WIDE_TABLE))
    return _weather(data, "log.csv", _case_with(CSV_TABLE))


def read_tmy3(data: bytes) -> DuctfloorError | None:
    """A typical year, or part of one."""
    from simulator.climate.tmy3_file import MORE
    from simulator.climate.tmy3_file import read_tmy3 as read

    case = _case_with('[weather]\nkind = "tmy3"\nfile = "year.csv"\n', YEAR_START)
    refused = _weather(data, "year.csv", case)
    if refused is None:
        # Columns that only a house reads.
        try:
            days = read(place() / "year.csv", "year.csv", MORE)
        except CaseError as error:
            return told(error)
        if not all(np.isfinite(day).all() for column in days.more.values() for day in column.values()):
            raise AssertionError("weather that cannot be")
    return refused


def read_quantity(data: bytes) -> DuctfloorError | None:
    """A number with a unit; the first byte chooses what is asked for."""
    from simulator.case import units
    from simulator.case.unit_table import DIMENSIONS

    names = sorted(DIMENSIONS)
    name = names[data[0] % len(names)] if data else names[0]
    try:
        value = units.parse(
            data[1:].decode("utf-8", "surrogatepass" if data[:1] > b"\x80" else "replace"), name
        )
        if not math.isfinite(value):
            raise AssertionError(f"{value} was accepted")
    except UnicodeDecodeError:
        return None
    except CaseError as error:
        return told(error)
    return None


def read_typed(data: bytes) -> DuctfloorError | None:
    """What is typed on the command line or in a rule: the letter before the colon says where."""
    from simulator.answers.needs import need_from
    from simulator.answers.outputs import output_named
    from simulator.case.changed import changed
    from simulator.case.conditions import parse_condition
    from simulator.case.ranges import setting, variation
    from simulator.case.rates import rate_or_amount
    from simulator.cli.moments import moment_typed, station_typed
    from simulator.cli.overnight import _price

    case = starter()
    results = targets_store.sound_results()
    kind, text = data[:1], data[2:].decode("utf-8", "replace")

    def put(text: str) -> object:
        keys, value = setting(case, text)
        return changed(case, dict.fromkeys(keys, value))

    def varied(text: str) -> object:
        found = variation(case, text)
        return changed(case, dict.fromkeys(found.keys, found.values[0]))

    read: Callable[[str], object] = {
        b"c": parse_condition, b"v": varied, b"s": put, b"o": output_named, b"w": need_from, b"e": _price,
        b"m": lambda typed: moment_typed(results, typed, "--at"),
        b"p": lambda typed: station_typed(results, typed),
        b"h": lambda typed: rate_or_amount(typed, ("power", "volume flow", "mass flow"), key="heat"),
    }.get(kind, parse_condition)  # fmt: skip
    try:
        read(text)
    except DuctfloorError as error:
        return told(error)
    return None


def read_targets(data: bytes) -> DuctfloorError | None:
    """A file of what a floor is to be sized for."""
    from simulator.cli.size import _merged, _question
    from simulator.cli.vary import with_settings

    path = place() / "targets.toml"
    path.write_bytes(data)
    case = starter()
    try:
        asked = _merged(path, [], [], [], [], [])
        _question(with_settings(case, asked["set"]), asked, None, spread=False)
    except DuctfloorError as error:
        return told(error)
    return None


def _is_read(data: bytes) -> bool:
    return read_quantity(data) is None


@cache
def formats() -> dict[str, Format]:
    """Every format by name."""
    cases = tuple(path.read_bytes() for path in sorted((ROOT / "cases").glob("*.toml")))
    long_starter = starter_text().encode()
    short_starter = b"\n".join(
        line for line in long_starter.split(b"\n") if not line.lstrip().startswith(b"#")
    )
    year = (ROOT / "shared" / "weather" / "sand_point_cold_spell.csv").read_bytes()
    short_year = b"\n".join(year.split(b"\n")[: 2 + 72])
    texts = ("6 1/2 in", "5 ft 3 in", "70 degF", "12.5 kW", "R-11", "3 W/(m.K)", "1e3 Pa", "5 %")
    quantities = tuple(bytes([number]) + text.encode() for number in range(0, 40, 3) for text in texts)
    typed = tuple(text.encode() for text in seeds.TYPED)
    csvs = (seeds.csv_seed(), seeds.wide_csv_seed())
    checkpoint, part = seeds.unfinished_seed()
    store = targets_store
    return {
        "case": Format(read_case, (short_starter, long_starter, *cases), break_text, 30_000),
        "csv": Format(read_csv, csvs, break_text, 20_000),
        "tmy3": Format(read_tmy3, (short_year,), break_text, 60_000),
        "results": Format(store.read_results, (seeds.results_seed(),), break_results, 700_000),
        "chain": Format(store.read_results, (seeds.chain_seed(),), break_results, 700_000),
        "checkpoint": Format(store.read_unfinished, (checkpoint,), break_sealed, 700_000),
        "part": Format(store.read_part, (part,), break_results, 700_000),
        "reduction": Format(store.read_reduction, (seeds.reduction_seed(),), break_archive, 40_000),
        "member": Format(store.read_member, (seeds.member_seed(),), break_json, 20_000),
        "quantity": Format(read_quantity, tuple(filter(_is_read, quantities)), break_text, 300),
        "typed": Format(read_typed, typed, break_text, 400),
        "targets": Format(read_targets, (seeds.TARGETS,), break_text, 4_000),
    }


def broken(form: Format, data: bytes, chance: random.Random) -> bytes:
    """Break an input in one to four places."""
    data = data or chance.choice(form.seeds)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 4))):
        data = form.breaker(data, chance) if data else break_bytes(data, chance)
    return data[: form.longest]
