"""Line numbers of the keys of a TOML text.

``tomllib`` keeps no positions, so this walks the text once more, and only after an error. The text is
known to be valid TOML, which keeps the walk short: it only has to skip values.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence

KeyPath = tuple[str | int, ...]


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    """Return the line (from 1) of a key path, or of its nearest parent that stands in the text.

    Parameters
    ----------
    text : str
        Valid TOML.
    path : sequence of str or int
        Keys and list positions (from 0), such as ``("ground", "layers", 1, "thickness")``.
    """
    lines = positions(text)
    for length in range(len(path), 0, -1):
        found = lines.get(tuple(path[:length]))
        if found is not None:
            return found
    return None


def positions(text: str) -> dict[KeyPath, int]:
    """Return the line (from 1) of every key, table and list entry of a TOML text.

    Of a text that is no TOML it returns those up to where it lost its way.
    """
    walk = _Walk(text.replace("\r\n", "\n"))
    try:
        walk.document()
    except (IndexError, ValueError):
        # Text that is no TOML after all: what was found up to here still helps.
        return walk.lines
    return walk.lines


class _Walk:
    def __init__(self, text: str) -> None:
        self.text = text + "\n"
        self.place = 0
        self.line = 1
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}

    def document(self) -> None:
        """Walk the whole text."""
        table: KeyPath = ()
        while True:
            self._blank(newlines=True)
            if self.place >= len(self.text):
                return
            if self.text.startswith("[[", self.place):
                table = self._header(2)
                number = self.counts.get(table, 0)
                self.counts[table] = number + 1
                self.lines.setdefault(table, self.line)
                table = (*table, number)
                self.lines[table] = self.line
                self._forget_below(table)
            elif self.text[self.place] == "[":
                table = self._header(1)
                self.lines.setdefault(table, self.line)
            else:
                self._pair(table)

    def _forget_below(self, table: KeyPath) -> None:
        """Start counting anew the lists inside a new list entry."""
        for known in [known for known in self.counts if known[: len(table)] == table]:
            del self.counts[known]

    def _header(self, brackets: int) -> KeyPath:
        self._move(brackets)
        keys = self._key()
        self._blank()
        self._move(brackets)
        path: KeyPath = ()
        for position, key in enumerate(keys):
            path = (*path, key)
            # A header below a list of tables means its latest entry.
            if position < len(keys) - 1 and path in self.counts:
                path = (*path, self.counts[path] - 1)
            if position < len(keys) - 1:
                self.lines.setdefault(path, self.line)
        return path

    def _pair(self, table: KeyPath) -> None:
        path = table
        for key in self._key():
            path = (*path, key)
            self.lines.setdefault(path, self.line)
        self._blank()
        self._move(1)
        self._blank()
        self._value(path)

    def _key(self) -> list[str]:
        """Read a dotted key."""
        keys = []
        while True:
            self._blank()
            begin = self.place
            if self.text[self.place] in "\"'":
                self._string()
                keys.append(str(tomllib.loads("key = " + self.text[begin : self.place])["key"]))
            else:
                while self.text[self.place].isalnum() or self.text[self.place] in "_-":
                    self.place += 1
                if self.place == begin:
                    raise IndexError
                keys.append(self.text[begin : self.place])
            self._blank()
            if self.text[self.place] != ".":
                return keys
            self.place += 1

    def _value(self, path: KeyPath) -> None:
        letter = self.text[self.place]
        if letter in "\"'":
            self._string()
        elif letter == "[":
            self._list(path)
        elif letter == "{":
            self._inline_table(path)
        else:
            while self.text[self.place] not in ",]}#\n":
                self.place += 1

    def _list(self, path: KeyPath) -> None:
        self._move(1)
        number = 0
        while True:
            self._blank(newlines=True)
            if self.text[self.place] == "]":
                break
            self.lines[(*path, number)] = self.line
            begin = self.place
            self._value((*path, number))
            if self.place == begin:
                raise IndexError
            number += 1
            self._blank(newlines=True)
            if self.text[self.place] == ",":
                self._move(1)
        self._move(1)

    def _inline_table(self, path: KeyPath) -> None:
        self._move(1)
        while True:
            self._blank(newlines=True)
            if self.text[self.place] == "}":
                break
            if self.text[self.place] == ",":
                self._move(1)
                continue
            self._pair(path)
        self._move(1)

    def _string(self) -> None:
        quote = self.text[self.place]
        if self.text.startswith(quote * 3, self.place):
            self._move(3)
            while not self.text.startswith(quote * 3, self.place):
                self._letter(escapes=quote == '"')
            self._move(3)
            # Up to two more quotes may belong to the string.
            while self.text[self.place] == quote:
                self._move(1)
            return
        self._move(1)
        while self.text[self.place] != quote:
            self._letter(escapes=quote == '"')
        self._move(1)

    def _letter(self, *, escapes: bool) -> None:
        self._move(2 if escapes and self.text[self.place] == "\\" else 1)

    def _move(self, letters: int) -> None:
        """Step on, counting lines."""
        if self.place + letters > len(self.text):
            raise IndexError
        self.line += self.text.count("\n", self.place, self.place + letters)
        self.place += letters

    def _blank(self, *, newlines: bool = False) -> None:
        """Skip blanks, and with `newlines` comments and line ends too."""
        while self.place < len(self.text):
            letter = self.text[self.place]
            if letter in " \t" or (newlines and letter == "\n"):
                self._move(1)
            elif newlines and letter == "#":
                self.place = self.text.index("\n", self.place)
            else:
                return
