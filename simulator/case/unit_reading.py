"""Compound unit texts to a factor and powers: recursive descent over the closed table, no arithmetic.

A quotient is products separated by slashes, a product is units separated by dots, stars, hyphens or
blanks; a slash therefore puts the whole product after it below the line, as the trade writes it.
"""

from __future__ import annotations

import re

from simulator.case.nearest import nearest_word
from simulator.case.unit_table import PHRASES, SPELLINGS, UNITS, Powers
from simulator.errors import CaseError

_TOKEN = re.compile(
    r"\s*(?:([A-Za-z]+)(?:\s*(?:\^|\*\*)\s*(-?\d)|(-?\d))?|([().*/-])|(1)(?=\s*/))\s*", re.ASCII
)
_SIGNS = str.maketrans(
    {
        "²": "2", "³": "3", "⁻": "-", "¹": "1", "·": ".", "⋅": ".", "∙": ".", "×": "*", "−": "-", "–": "-",
        "\u2010": "-", "\u2011": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
    }
)  # fmt: skip
_DEEPEST = 4


def tidy(text: str) -> str:
    """Return the text with one way of writing signs, degrees and powers."""
    return re.sub(r"°\s*|\bdeg\s+(?=[CFKR]\b)", "deg", text.translate(_SIGNS)).strip()


def table_form(unit: str) -> str:
    """Turn a whole unit text that the trade writes its own way into the table's form."""
    unit = PHRASES.get(re.sub(r"[\s.]", "", unit).lower(), unit)
    return f"1{unit}" if unit.startswith("/") else unit


def read_unit(text: str, examples: str = "") -> tuple[float, Powers]:
    """Read a unit.

    Parameters
    ----------
    text : str
        Such as ``"BTU.in/(h.ft2.F)"``.
    examples : str
        Units to offer when one is unknown and none is like it.

    Returns
    -------
    tuple of float and Powers
        Factor to SI, and powers of kilogram, metre, second and kelvin.

    Raises
    ------
    CaseError
        When the text is no unit.
    """
    unit = table_form(tidy(text))
    known = SPELLINGS.get(unit, unit)
    return UNITS[known] if known in UNITS else _Reader(unit, examples).read()


def suggestion(name: str, examples: str) -> str:
    """Return a hint for an unknown unit name."""
    if name.lower() in ("year", "years", "yr", "month", "months"):
        return "write it in days"
    fitting = [word for word in re.findall(r"[A-Za-z]+", examples) if word in UNITS]
    everything = [*UNITS, *SPELLINGS]
    found = next((word for word in (*fitting, *everything) if word.lower() == name.lower()), None)
    if found is None and len(name) > 1:
        found = nearest_word(name, fitting) or nearest_word(name, everything)
    if found is not None:
        return f"did you mean {found!r}?"
    return f"use one of {examples}" if examples else "use a unit such as m, ft, degC, W or BTU/h"


class _Reader:
    """One text and the place reached in it."""

    def __init__(self, text: str, examples: str) -> None:
        self.text = text
        self.examples = examples
        self.tokens = self._split(text)
        self.place = 0

    def read(self) -> tuple[float, Powers]:
        """Return factor and powers of the whole text."""
        result = self._quotient(0)
        if self.place != len(self.tokens):
            raise self._unreadable()
        return result

    def _unreadable(self) -> CaseError:
        return CaseError(f"the unit {self.text!r} cannot be read", fix='write it like "W/(m2.K)" or "m3/s"')

    def _split(self, text: str) -> list[tuple[str, int]]:
        """Return (name or sign, power) pairs; signs carry power 0."""
        tokens: list[tuple[str, int]] = []
        place = 0
        while place < len(text):
            match = _TOKEN.match(text, place)
            if match is None:
                raise self._unreadable()
            name, marked, plain, sign, one = match.groups()
            if name is not None:
                known = SPELLINGS.get(name, name)
                power = int(marked or plain or 1)
                if known not in UNITS:
                    raise CaseError(f"unknown unit {name!r}", fix=suggestion(name, self.examples))
                if power == 0:
                    raise self._unreadable()
                tokens.append((known, power))
            else:
                tokens.append((sign or one, 0))
            place = match.end()
        return tokens

    def _peek(self) -> str:
        return self.tokens[self.place][0] if self.place < len(self.tokens) else ""

    def _quotient(self, depth: int) -> tuple[float, Powers]:
        if depth > _DEEPEST:
            raise self._unreadable()
        scale, powers = self._product(depth)
        while self._peek() == "/":
            self.place += 1
            below, below_powers = self._product(depth)
            scale /= below
            powers = _combine(powers, below_powers, -1)
        return scale, powers

    def _product(self, depth: int) -> tuple[float, Powers]:
        scale, powers = self._atom(depth)
        while self._peek() not in ("", "/", ")"):
            if self._peek() in (".", "*", "-"):
                self.place += 1
            factor, factor_powers = self._atom(depth)
            scale *= factor
            powers = _combine(powers, factor_powers, 1)
        return scale, powers

    def _atom(self, depth: int) -> tuple[float, Powers]:
        if self.place >= len(self.tokens):
            raise self._unreadable()
        name, power = self.tokens[self.place]
        self.place += 1
        if name == "(":
            inside = self._quotient(depth + 1)
            if self._peek() != ")":
                raise self._unreadable()
            self.place += 1
            return inside
        if name == "1":
            return 1.0, (0, 0, 0, 0)
        if power == 0:
            raise self._unreadable()
        factor, powers = UNITS[name]
        return factor**power, _combine((0, 0, 0, 0), powers, power)


def _combine(first: Powers, second: Powers, times: int) -> Powers:
    """Add ``times`` the second powers to the first."""
    return (
        first[0] + times * second[0],
        first[1] + times * second[1],
        first[2] + times * second[2],
        first[3] + times * second[3],
    )
