"""Ways to break an input: its lines, its bytes, or what a sound container holds."""

from __future__ import annotations

import hashlib
import io
import math
import random
from collections.abc import Callable

import numpy as np

Breaker = Callable[[bytes, random.Random], bytes]

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
    "9" * 400, "0001-01-01T00:00:00", "9999-12-31T23:59:59", "null", "Infinity", "..", "in 6 steps",
    "at least", "9" * 5000, "[" * 3000, "²", "１２", "1e400", "%", "\\N{BULLET}", "a=1",
]  # fmt: skip
"""Pieces that have broken programs of this kind before."""
NUMBERS = (math.nan, math.inf, -math.inf, 1e308, -1e308, -1e4, 0.0, 1e18, 2.0**63, 1e-320)
MOMENTS = (
    "0001-01-01T00:00:00", "9999-12-31T23:59:59", "2031-01-15T18:00:00+01:00", "2031-02-30", "20310115",
)  # fmt: skip


def break_text(data: bytes, chance: random.Random) -> bytes:
    """Break one line of a text, or one time in four its bytes."""
    if chance.random() < 0.25:
        return break_bytes(data, chance)
    lines = data.split(b"\n")
    place = chance.randrange(len(lines))
    word = chance.choice(WORDS).encode("utf-8", "surrogatepass")
    kind = chance.randrange(9)
    if kind == 0:
        del lines[place]
    elif kind == 1:
        lines.insert(chance.randrange(len(lines) + 1), lines[place])
    elif kind == 2:
        lines.insert(place, word)
    elif kind == 3:
        lines[place] = lines[place].split(b"=")[0] + b"= " + word
    elif kind == 4:
        cells = lines[place].split(b",")
        cells[chance.randrange(len(cells))] = word
        lines[place] = b",".join(cells)
    elif kind == 5:
        other = chance.randrange(len(lines))
        lines[place], lines[other] = lines[other], lines[place]
    elif kind == 6:
        tokens = lines[place].split(b" ")
        tokens[chance.randrange(len(tokens))] = word
        lines[place] = b" ".join(tokens)
    elif kind == 7:
        digits = [number for number, letter in enumerate(lines[place]) if 48 <= letter <= 57]
        if digits:
            line = bytearray(lines[place])
            line[chance.choice(digits)] = 48 + chance.randrange(10)
            lines[place] = bytes(line)
    else:
        lines = lines[:place] or lines
    return b"\n".join(lines)


def break_json(data: bytes, chance: random.Random) -> bytes:
    """Put a word in place of one value or name, or break the bytes."""
    if chance.random() < 0.2:
        return break_bytes(data, chance)
    pieces = data.replace(b",", b"\x00,\x00").replace(b":", b"\x00:\x00").split(b"\x00")
    word = chance.choice((*WORDS, '"text"', '{"a": 1}', "[1, 2]", '{"values": {}}', "-Infinity"))
    pieces[chance.randrange(len(pieces))] = word.encode("utf-8", "surrogatepass")
    return b"".join(pieces)


def break_bytes(data: bytes, chance: random.Random) -> bytes:
    """Change, drop or double some bytes."""
    if not data:
        return bytes([chance.randrange(256)])
    changed = bytearray(data)
    place = chance.randrange(len(changed))
    kind = chance.randrange(7)
    if kind == 0:
        changed[place] ^= 1 << chance.randrange(8)
    elif kind == 1:
        changed[place] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, 10, 34))
    elif kind == 2:
        width = chance.choice((2, 4, 8))
        changed[place : place + width] = chance.choice(
            (b"\xff" * width, b"\x00" * width, b"\x7f" + b"\xff" * (width - 1))
        )
    elif kind == 3:
        del changed[place:]
    elif kind == 4:
        del changed[place : place + chance.choice((1, 2, 8, 64, 512))]
    elif kind == 5:
        piece = changed[place : place + chance.choice((1, 8, 64))]
        where = chance.randrange(len(changed))
        changed[where:where] = piece
    else:
        changed[place : place + 16] = chance.randbytes(16)
    return bytes(changed)


def spoilt_array(values: np.ndarray, chance: random.Random) -> np.ndarray:
    """Return an array with another shape, kind or number in it."""
    kind = chance.randrange(8)
    if kind == 0:
        return values[:0] if values.ndim else np.zeros((2, 2))
    if kind == 1:
        return np.zeros((1, 1, 1, 1, 1))
    if kind == 2:
        return np.array(chance.choice(("text", "x" * 5000)))
    if kind == 3:
        return np.array(chance.choice(NUMBERS))
    if kind == 4:
        return values.astype(chance.choice(("f4", "i8", "c16", "u1", "S8")))
    if values.dtype.kind not in "iuf" or not values.size:
        return np.array([1.0, 2.0])
    changed = values.astype(np.float64 if chance.random() < 0.8 else values.dtype)
    one = tuple(chance.randrange(size) for size in changed.shape)
    with np.errstate(all="ignore"):
        changed[one if kind < 7 else ...] = np.array(chance.choice(NUMBERS)).astype(changed.dtype)
    return changed


def break_archive(data: bytes, chance: random.Random) -> bytes:
    """Leave an archive of arrays sound, and spoil or drop one of them; one too far gone is broken further."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        name = chance.choice(sorted(arrays))
        if chance.random() < 0.15:
            del arrays[name]
        else:
            arrays[name] = spoilt_array(arrays[name], chance)
        buffer = io.BytesIO()
        np.savez(buffer, **arrays)
        return buffer.getvalue()
    except Exception:  # noqa: BLE001
        return break_bytes(data, chance)


MARK_BYTES, DIGEST_BYTES = len(b"ductfloor checkpoint 1\n"), 32


def break_sealed(data: bytes, chance: random.Random) -> bytes:
    """Break what a checkpoint holds and seal it again, or one time in five the checkpoint as it is."""
    if chance.random() < 0.2:
        return break_bytes(data, chance)
    body = data[MARK_BYTES + DIGEST_BYTES :]
    body = break_archive(body, chance) if chance.random() < 0.7 else break_bytes(body, chance)
    return data[:MARK_BYTES] + hashlib.sha256(body).digest() + body


def break_results(data: bytes, chance: random.Random) -> bytes:
    """Leave a results file sound as such, and spoil what it holds; one too far gone is broken further."""
    if chance.random() < 0.3:
        return break_bytes(data, chance)
    try:
        return _spoilt_results(data, chance)
    except Exception:  # noqa: BLE001
        return break_bytes(data, chance)


def _spoilt_results(data: bytes, chance: random.Random) -> bytes:
    import h5py

    image = h5py.h5f.open_file_image(data, flags=h5py.h5f.FILE_IMAGE_OPEN_RW)
    with h5py.File(image) as file:
        name, other = chance.choice(sorted(file)), chance.choice(sorted(file.attrs))
        value = chance.choice(NUMBERS)
        kind = chance.randrange(9)
        if kind == 0:
            del file[name]
        elif kind == 1:
            texts = ("", "no", "\x1b[2J\n", "x" * 3000, *MOMENTS)
            file.attrs[other] = chance.choice((value, *texts, -1, 2, [1.0, 2.0]))
        elif kind == 2:
            del file.attrs[other]
        elif kind == 3 and len(file[name].attrs):
            label = chance.choice(sorted(set(file[name].attrs) & LABELS) or ["units"])
            file[name].attrs[label] = chance.choice((value, "", "\x1b[2J", [1.0, 2.0], ["a", "b", "c"]))
        elif kind == 4 and len(file[name].attrs):
            del file[name].attrs[chance.choice(sorted(set(file[name].attrs) & LABELS) or ["units"])]
        elif kind == 5:
            labels = {label: file[name].attrs[label] for label in set(file[name].attrs) & LABELS}
            held = spoilt_array(file[name][()], chance)
            del file[name]
            file.create_dataset(name, data=held if held.dtype.kind != "U" else str(held)).attrs.update(labels)
        else:
            spoilt = file[name][()]
            one = tuple(chance.randrange(size) for size in spoilt.shape)
            if kind == 6:
                one = (one[0], ...) if one else ()
            with np.errstate(all="ignore"):
                if one:
                    spoilt[one] = np.array(value).astype(spoilt.dtype)
                else:
                    spoilt = np.array(value).astype(spoilt.dtype)
            file[name][...] = spoilt
        file.flush()
        return bytes(file.id.get_file_image())


LABELS = {"units", "long_name", "material_names", "branch_names", "names"}
