"""What is fed with broken input: one function per format, with seeds and a dictionary to break them with.

Each target takes bytes and must either accept them or raise the error of the project, in one line. Anything
else is a finding.
"""

from __future__ import annotations

import math
import random
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from simulator.errors import CaseError, DuctfloorError, SolverError, StoreError

ROOT = Path(__file__).parents[2]
WORDS = [
    "nan", "inf", "-inf", "-0.0", "0", "-1", "1e308", "-1e308", "1e-320", "99999999999999999999999999",
    "1_000", "true", "[]", "{}", "[[[[[[[[", "]" * 50, "{a=" * 30, '""', '"x"', "'''", '"""', "\\u0000",
    "\x00", "\ufeff", "1979-05-27", "07:32:00", "2031-02-30", "24:00", "00:00", "12:60",
    "2031-01-16T07:32:00Z", '"-1 ft"', '"1e17 ft"', '"nan ft"', '"5 degF"', '"5 W"', '"2**9**9 m"',
    '"__import__(\'os\').getpid() m"', '"1 m; import os"', '"{0.__class__} m"', '"%s%n m"',
    '"$(touch /tmp/x) m"', '"1/0 m"', '"6 1/2 in"', '"5\' 6\\""', '"../../../../etc/passwd"', '"/dev/zero"',
    '"/proc/self/mem"', '"a/../b"', '"con"', '"file:///etc/passwd"', '"R-1"', '"9 years"', '"1e-18 s"',
    '"0 s"', "kind = 3", "solver = 'direct'", "cell_scale = 0.2", "stations = 400", "[[weather]]",
    "[a.b.c]", "a.b.c.d = 1", "#", "=", ",", "\r\n", "\t", "\"", "'", "é", "\u202e", "\U0001f525", ";",
    "24:00,", "01/01/1999", "12/31/2031", "02/29/1900", "NaN", "-9900", "1e5", ",,,,,,", "\"unclosed",
    "9" * 400,
]  # fmt: skip
"""Pieces that have broken programs of this kind before."""


@dataclass(frozen=True)
class Format:
    """One kind of input.

    Attributes
    ----------
    target : callable
        Takes the bytes.
    seeds : tuple of bytes
        Inputs that are good.
    is_text : bool
    longest : int
        Bytes that an input may have.
    """

    target: Callable[[bytes], None]
    seeds: tuple[bytes, ...]
    is_text: bool
    longest: int


def told(error: DuctfloorError) -> None:
    """See that an error reads as one line of reasonable length without control characters."""
    message = str(error)
    bad = [letter for letter in message if ord(letter) < 32 or 127 <= ord(letter) < 160]
    if not message or bad or len(message) > 2000:
        raise AssertionError(f"not a message: {message[:300]!r}")


@cache
def place() -> Path:
    """Folder in memory for files that are read; it goes away with the process."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="broken-", dir=memory if memory.is_dir() else None))
    import atexit

    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def read_case(data: bytes) -> None:
    """A case file, up to everything that is worked out before a run begins."""
    from simulator.case.loader import load
    from simulator.run.sizes import check_steps

    path = place() / "case.toml"
    path.write_bytes(data)
    try:
        case = load(path)
        if not (math.isfinite(case.floor.area) and case.timetable_compiled.end > 0):
            raise AssertionError("a case was accepted that has no extent")
        check_steps(case)
    except CaseError as error:
        told(error)


@cache
def _case_with(weather: str) -> str:
    from simulator.case.loader import starter_text

    text = starter_text()
    begin = text.index("[weather]")
    end = text.index("\n[", begin + 1)
    return text[:begin] + weather + text[end:]


def _weather(data: bytes, name: str, table: str) -> None:
    from simulator.case.loader import load_text
    from simulator.climate.weather import from_case

    (place() / name).write_bytes(data)
    case = load_text(_case_with(table), folder=place())
    try:
        weather = from_case(case)
        ticks = np.arange(-48, 400, 7, dtype=np.int64) * 3_600_000
        found = np.concatenate((weather.temperature_at(ticks), weather.sun_at(ticks)))
        if not np.isfinite(found).all() or found.min() < 0.0:
            raise AssertionError("weather that cannot be")
    except CaseError as error:
        told(error)


CSV_TABLE = """[weather]
kind = "csv"
file = "log.csv"
columns.time = {column = "when"}
columns.temperature = {column = "out", unit = "degF"}
columns.sun = {column = "sun", unit = "W/m2"}
"""


def read_csv(data: bytes) -> None:
    """A table of weather."""
    _weather(data, "log.csv", CSV_TABLE)


def read_tmy3(data: bytes) -> None:
    """A typical year, or part of one."""
    _weather(data, "year.csv", '[weather]\nkind = "tmy3"\nfile = "year.csv"\n')


def read_results(data: bytes) -> None:
    """A results file: everything in it, and the answers made of it."""
    from simulator.answers.cautions import cautions
    from simulator.answers.overnight import overnight
    from simulator.store.reader import Results

    path = place() / "night.h5"
    path.write_bytes(data)
    try:
        with Results(path) as results:
            for name in results:
                results[name]
            _ = results.time, results.field_time, results.summary, results.material_names, results.start
            overnight(results)
            cautions(results)
    except (StoreError, CaseError) as error:
        told(error)


def read_unfinished(data: bytes) -> None:
    """A checkpoint."""
    from simulator.store.checkpoint import read_checkpoint

    path = place() / "night.h5.checkpoint"
    path.write_bytes(data)
    try:
        read_checkpoint(path)
    except StoreError as error:
        told(error)


def read_quantity(data: bytes) -> None:
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
        return
    except CaseError as error:
        told(error)


@cache
def results_seed() -> bytes:
    """Small made-up results."""
    from tests.look.made_up import Shape, make_results

    with make_results(Shape(hours=6.0, rows_per_hour=2.0, maps=1, stations=2)) as results:
        return bytes(results._file.id.get_file_image())


@cache
def checkpoint_seed() -> bytes:
    """A small checkpoint."""
    from simulator.store.checkpoint import write_checkpoint

    path = place() / "seed"
    write_checkpoint(
        path, {"identity": {"files": {}}, "rows": [1, 2]}, {"a.b": np.arange(3.0), "c": np.array(1)}
    )
    return path.read_bytes()


@cache
def csv_seed() -> bytes:
    """Thirty hours, with the marks a logger leaves."""
    rows = [f"2031-01-{15 + hour // 24:02d} {hour % 24:02d}:00,{30 + hour % 9},{max(0, hour % 24 - 6) * 20}"
            for hour in range(12, 48)]  # fmt: skip
    return "\n".join(["# gate", "when,out,sun", *rows]).encode()


@cache
def formats() -> dict[str, Format]:
    """Every format by name."""
    cases = tuple(path.read_bytes() for path in sorted((ROOT / "cases").glob("*.toml")))
    starter = (ROOT / "simulator" / "case" / "starter.toml").read_bytes()
    year = (ROOT / "shared" / "weather" / "sand_point_cold_spell.csv").read_bytes()
    short_year = b"\n".join(year.split(b"\n")[: 2 + 72])
    texts = ("6 1/2 in", "5 ft 3 in", "70 degF", "12.5 kW", "R-11", "3 W/(m.K)", "1e3 Pa", "5 %")
    quantities = tuple(bytes([number]) + text.encode() for number in range(0, 40, 3) for text in texts)
    return {
        "case": Format(read_case, (starter, *cases), True, 30_000),
        "csv": Format(read_csv, (csv_seed(),), True, 20_000),
        "tmy3": Format(read_tmy3, (short_year, year[:4000]), True, 60_000),
        "results": Format(read_results, (results_seed(),), False, 400_000),
        "checkpoint": Format(read_unfinished, (checkpoint_seed(),), False, 20_000),
        "quantity": Format(read_quantity, quantities, True, 300),
    }


def broken(form: Format, data: bytes, chance: random.Random) -> bytes:
    """Break an input in one to four places."""
    data = data or chance.choice(form.seeds)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 4))):
        if form.is_text and chance.random() < 0.75:
            data = _break_text(data, chance)
        elif form.target is read_results and chance.random() < 0.6:
            data = _break_results(data, chance)
        else:
            data = _break_bytes(data, chance)
    return data[: form.longest]


def _break_text(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    place_ = chance.randrange(len(lines))
    word = chance.choice(WORDS).encode("utf-8", "surrogatepass")
    kind = chance.randrange(9)
    if kind == 0:
        del lines[place_]
    elif kind == 1:
        lines.insert(chance.randrange(len(lines) + 1), lines[place_])
    elif kind == 2:
        lines.insert(place_, word)
    elif kind == 3:
        lines[place_] = lines[place_].split(b"=")[0] + b"= " + word
    elif kind == 4:
        cells = lines[place_].split(b",")
        cells[chance.randrange(len(cells))] = word
        lines[place_] = b",".join(cells)
    elif kind == 5:
        other = chance.randrange(len(lines))
        lines[place_], lines[other] = lines[other], lines[place_]
    elif kind == 6:
        tokens = lines[place_].split(b" ")
        tokens[chance.randrange(len(tokens))] = word
        lines[place_] = b" ".join(tokens)
    elif kind == 7:
        digits = [number for number, letter in enumerate(lines[place_]) if 48 <= letter <= 57]
        if digits:
            line = bytearray(lines[place_])
            line[chance.choice(digits)] = 48 + chance.randrange(10)
            lines[place_] = bytes(line)
    else:
        lines = lines[:place_] or lines
    return b"\n".join(lines)


def _break_results(data: bytes, chance: random.Random) -> bytes:
    """Leave a results file sound as such, and spoil what it holds; one too far gone is broken further."""
    try:
        return _spoilt_results(data, chance)
    except Exception:  # noqa: BLE001
        return _break_bytes(data, chance)


def _spoilt_results(data: bytes, chance: random.Random) -> bytes:
    import h5py

    with h5py.File(h5py.h5f.open_file_image(data)) as file:
        held = {name: one[()] for name, one in file.items()}
        labels = {name: dict(one.attrs) for name, one in file.items()}
        attributes = dict(file.attrs)
    name, other = chance.choice(sorted(held)), chance.choice(sorted(attributes))
    value = chance.choice((math.nan, math.inf, -math.inf, 1e308, -1e308, -1e4, 0.0, 1e18, 2.0**63))
    kind = chance.randrange(7)
    if kind == 0:
        del held[name]
    elif kind == 1:
        held[name] = held[name][:0] if np.ndim(held[name]) else np.zeros((2, 2))
    elif kind == 2:
        held[name] = chance.choice((value, "text", np.zeros((1, 1, 1, 1, 1)), np.bool_(1)))
    elif kind == 3:
        attributes[other] = chance.choice((value, "", "no", -1, [1.0, 2.0]))
    elif kind == 4:
        del attributes[other]
    elif np.asarray(held[name]).dtype.kind in "iuf":
        spoilt = np.array(held[name], dtype=np.float64)
        one = tuple(chance.randrange(size) for size in spoilt.shape) if spoilt.size else ...
        spoilt[one if kind == 5 else ...] = value
        held[name] = spoilt
    with h5py.File(f"spoilt-{chance.random()}", "w", driver="core", backing_store=False) as fresh:
        for one, values in held.items():
            dataset = fresh.create_dataset(one, data=values)
            for label in labels[one].keys() & {"units", "long_name", "material_names", "branch_names"}:
                dataset.attrs[label] = labels[one][label]
        fresh.attrs.update(attributes)
        fresh.flush()
        return bytes(fresh.id.get_file_image())


def _break_bytes(data: bytes, chance: random.Random) -> bytes:
    if not data:
        return bytes([chance.randrange(256)])
    changed = bytearray(data)
    place_ = chance.randrange(len(changed))
    kind = chance.randrange(7)
    if kind == 0:
        changed[place_] ^= 1 << chance.randrange(8)
    elif kind == 1:
        changed[place_] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, 10, 34))
    elif kind == 2:
        width = chance.choice((2, 4, 8))
        changed[place_ : place_ + width] = chance.choice(
            (b"\xff" * width, b"\x00" * width, b"\x7f" + b"\xff" * (width - 1))
        )
    elif kind == 3:
        del changed[place_:]
    elif kind == 4:
        del changed[place_ : place_ + chance.choice((1, 2, 8, 64, 512))]
    elif kind == 5:
        piece = changed[place_ : place_ + chance.choice((1, 8, 64))]
        where = chance.randrange(len(changed))
        changed[where:where] = piece
    else:
        changed[place_ : place_ + 16] = chance.randbytes(16)
    return bytes(changed)


EXPECTED = (CaseError, StoreError, SolverError)
