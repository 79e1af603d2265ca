"""Conditions in words, such as ``"supply above floor by 5 K or room below 8 degC"``, to plain comparisons.

The grammar, where capital letters stand for what is filled in::

    condition  = all-of { "or" all-of }
    all-of     = comparison { "and" comparison }
    comparison = QUANTITY ( "above" | "below" ) ( VALUE | QUANTITY [ "by" DIFFERENCE ] )

"and" binds before "or"; there are no brackets. Letter case and blanks do not count, and "the", "is" and
"temperature" may be said and mean nothing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from simulator.case import units
from simulator.case.nearest import nearest
from simulator.errors import CaseError

#: quantities a rule may look at, each a temperature
QUANTITIES: tuple[str, ...] = (
    "room", "floor", "coldest floor", "supply", "exit", "hood", "shell", "flue", "tank", "tank top",
    "tank bottom", "coil water", "outside", "duct wall",
)  # fmt: skip
_SILENT = frozenset({"the", "is", "are", "temperature"})
_SIDES = ("above", "below")
_EXAMPLE = 'write it like "room below 8 degC" or "supply above floor by 5 K and tank below 30 degC"'
_LONGEST = 500
_MOST = 40


@dataclass(frozen=True)
class Comparison:
    """One comparison.

    Attributes
    ----------
    quantity : str
        One of `QUANTITIES`.
    above : bool
        Whether it holds above the mark, or below it.
    other : str or None
        Quantity to compare with.
    value : float
        Mark. Without `other` a temperature [K]: true when ``quantity > value``, or ``quantity < value``.
        With `other` a difference [K], negative for "below ... by": true when ``quantity - other > value``, or
        ``quantity - other < value``.
    """

    quantity: str
    above: bool
    other: str | None
    value: float

    def excess(self, temperatures: dict[str, float]) -> float:
        """By how much it is true [K]; 0 or less is false.

        Parameters
        ----------
        temperatures : dict
            Temperature [K] of each quantity.
        """
        base = 0.0 if self.other is None else temperatures[self.other]
        difference = temperatures[self.quantity] - base - self.value
        return difference if self.above else -difference

    def eased(self, margin: float) -> Comparison:
        """Return the comparison with its mark moved by so many kelvin, so that it is easier to meet."""
        return replace(self, value=self.value - margin if self.above else self.value + margin)

    def __str__(self) -> str:
        side = "above" if self.above else "below"
        if self.other is None:
            return f"{self.quantity} {side} {self.value - 273.15:.6g} degC"
        by = self.value if self.above else -self.value
        return f"{self.quantity} {side} {self.other}" + (f" by {by:.6g} K" if by != 0.0 else "")


@dataclass(frozen=True)
class Condition:
    """Comparisons joined: true when all of any group are true.

    Attributes
    ----------
    any_of : tuple of tuple of Comparison
    text : str
        As it was written; empty for one made otherwise.
    """

    any_of: tuple[tuple[Comparison, ...], ...]
    text: str = field(default="", compare=False)

    @property
    def quantities(self) -> tuple[str, ...]:
        """Quantities it looks at, in the order of `QUANTITIES`."""
        seen = {name for group in self.any_of for each in group for name in (each.quantity, each.other)}
        return tuple(name for name in QUANTITIES if name in seen)

    def holds(self, temperatures: dict[str, float]) -> bool:
        """Whether it is true at these temperatures [K]."""
        return any(all(each.excess(temperatures) > 0.0 for each in group) for group in self.any_of)

    def eased(self, margin: float) -> Condition:
        """Return the condition with every mark moved by so many kelvin, so that it is easier to meet."""
        return Condition(tuple(tuple(each.eased(margin) for each in group) for group in self.any_of))

    def __str__(self) -> str:
        return self.text or " or ".join(" and ".join(map(str, group)) for group in self.any_of)


def parse_condition(text: object) -> Condition:
    """Read a condition.

    Parameters
    ----------
    text : object
        What the case file holds; anything but text is refused.

    Raises
    ------
    CaseError
        When it is not understood; it names the word, without file or line.
    """
    if not isinstance(text, str):
        raise CaseError("must be text in quotes", fix=_EXAMPLE)
    if len(text) > _LONGEST:
        raise CaseError("is too long", allowed=f"up to {_LONGEST} characters")
    words = [word for word in text.split() if word.lower() not in _SILENT]
    if not words:
        raise CaseError("is empty", fix=_EXAMPLE)
    groups = [tuple(_comparison(part) for part in _split(group, "and")) for group in _split(words, "or")]
    if sum(map(len, groups)) > _MOST:
        raise CaseError("has too many parts", allowed=f"up to {_MOST} comparisons")
    return Condition(tuple(groups), " ".join(text.split()))


def _split(words: Sequence[str], joint: str) -> list[list[str]]:
    """Cut at a joining word; nothing may be missing on either side of it."""
    parts: list[list[str]] = [[]]
    for word in words:
        if word.lower() == joint:
            parts.append([])
        else:
            parts[-1].append(word)
    if any(not part for part in parts):
        raise CaseError(f'has nothing on one side of "{joint}"', fix=_EXAMPLE)
    return parts


def _comparison(words: Sequence[str]) -> Comparison:
    said = " ".join(words)
    lowered = [word.lower() for word in words]
    places = [place for place, word in enumerate(lowered) if word in _SIDES]
    if not places:
        raise CaseError(f'"{_cut(said)}" says neither above nor below', fix=_side_hint(words))
    if len(places) > 1:
        raise CaseError(
            f'"{_cut(said)}" says {lowered[places[0]]} and {lowered[places[1]]}',
            fix='join two parts by "and"',
        )
    place = places[0]
    if place == 0:
        raise CaseError(f'nothing stands before "{words[0]}"', allowed=_listed(), fix=_EXAMPLE)
    above = lowered[place] == "above"
    quantity = _quantity(words[:place])
    rest = words[place + 1 :]
    if not rest:
        raise CaseError(f'nothing stands after "{words[place]}"', fix=_EXAMPLE)
    if _is_value(rest):
        return Comparison(quantity, above, None, _value(" ".join(rest), "temperature"))
    joints = [number for number, word in enumerate(rest) if word.lower() == "by"]
    other = _quantity(rest[: joints[0]] if joints else rest)
    if other == quantity:
        raise CaseError(f'"{_cut(said)}" compares {quantity} with itself')
    by = 0.0
    if joints:
        by = _value(" ".join(rest[joints[0] + 1 :]), "temperature difference")
        if by < 0.0:
            raise CaseError(
                f'"{_cut(said)}" has a difference below 0', fix="turn above into below, or below into above"
            )
    return Comparison(quantity, above, other, by if above else -by)


def _is_value(words: Sequence[str]) -> bool:
    """Whether the words begin like a number."""
    return re.match(r"[+\-\u2212]?\s*[\d.]", words[0]) is not None or words[0] in ("-", "+", "\u2212")


def _value(text: str, dimension: str) -> float:
    try:
        return units.parse(text, dimension)
    except CaseError as error:
        what = f'"{_cut(text)}"' if text else '"by" without a difference'
        raise CaseError(f"{what} {error.problem}", allowed=error.allowed, fix=error.fix) from None


def _quantity(words: Sequence[str]) -> str:
    said = " ".join(words).lower().replace("_", " ").replace("-", " ")
    said = " ".join(said.split())
    if said in QUANTITIES:
        return said
    if not words:
        raise CaseError('"by" has no quantity before it', allowed=_listed(), fix=_EXAMPLE)
    raise CaseError(
        f'"{_cut(" ".join(words))}" is no quantity known here',
        allowed=_listed(),
        fix=nearest(said, QUANTITIES),
    )


def _side_hint(words: Sequence[str]) -> str:
    """Hint at above or below for another word or sign that means one of them."""
    meant = {
        ">": "above", ">=": "above", "over": "above", "exceeds": "above",
        "warmer": "above", "hotter": "above",
        "<": "below", "<=": "below", "under": "below", "colder": "below", "cooler": "below",
    }  # fmt: skip
    for word in words:
        side = meant.get(word.lower()) or nearest_side(word)
        if side is not None:
            return f'write {side} instead of "{_cut(word)}"'
    return _EXAMPLE


def nearest_side(word: str) -> str | None:
    """Return above or below when the word is a misspelling of it."""
    hint = nearest(word, _SIDES)
    return None if hint is None else next(side for side in _SIDES if side in hint)


def _listed() -> str:
    return ", ".join(QUANTITIES)


def _cut(text: str) -> str:
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return text if len(text) <= 60 else text[:57] + "..."
