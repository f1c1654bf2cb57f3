"""Where each key of a TOML text stands: ``tomllib`` tells values, not lines.

Scans a text that ``tomllib`` reads too, and remembers the line of every table, key and list
element. Judges nothing: on a text that is no TOML it stops early with what it has found.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress
from dataclasses import field

from grammar.frozen import dataclass

# Table and key names, and the index of an element in a list.
KeyPath = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACES = re.compile(r"[ \t]*")
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Twice:
    """A key or table that a text defines a second time."""

    path: KeyPath
    first: int
    second: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyLines:
    """The line of each key, from 1, and what is defined twice."""

    lines: dict[KeyPath, int]
    twice: tuple[Twice, ...] = ()

    def line(self, path: KeyPath) -> int:
        """The line of a key, else of the nearest table or list around it, else 0."""
        for length in range(len(path), 0, -1):
            found = self.lines.get(path[:length])
            if found is not None:
                return found
        return 0


def key_lines(text: str) -> KeyLines:
    """The line of every table, key and list element of a TOML text. Never raises."""
    scan = _Scan(text.replace("\r\n", "\n"))
    with suppress(_Lost, RecursionError):  # no TOML from there on, which is for tomllib to tell
        scan.document()
    return KeyLines(lines=scan.lines, twice=tuple(scan.twice))


class _Lost(Exception):
    """The text is no TOML here."""


@dataclass(slots=True)
class _Scan:
    """One pass over a text."""

    text: str
    at: int = 0
    lines: dict[KeyPath, int] = field(default_factory=dict)
    twice: list[Twice] = field(default_factory=list)
    _newlines: list[int] = field(default_factory=list)
    _explicit: set[KeyPath] = field(default_factory=set)
    _elements: dict[KeyPath, int] = field(default_factory=dict)  # tables of a [[list]]

    def __post_init__(self) -> None:
        self._newlines = [m.start() for m in re.finditer("\n", self.text)]

    def document(self) -> None:
        table: KeyPath = ()
        while self._skip(_BLANK):
            if self._take("[["):
                table = self._header(())
                count = self._elements.get(table, 0)
                self._note(table)
                self._elements[table] = count + 1
                table = (*table, count)
                self._note(table)
                self._need("]]")
            elif self._take("["):
                table = self._header(())
                self._define(table)
                self._need("]")
            else:
                self._pair(table)

    def _header(self, path: KeyPath) -> KeyPath:
        keys = self._keys()
        for key in keys[:-1]:
            path = (*path, key)
            self._note(path)
            if path in self._elements:
                path = (*path, self._elements[path] - 1)
        return (*path, keys[-1])

    def _pair(self, table: KeyPath) -> None:
        path = table
        keys = self._keys()
        for key in keys[:-1]:
            path = (*path, key)
            self._note(path)
        path = (*path, keys[-1])
        self._define(path)
        self._need("=")
        self._skip(_SPACES)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        if self._take("["):
            self._list(path)
        elif self._take("{"):
            self._inline(path)
        elif self.text[self.at : self.at + 1] in ("'", '"'):
            self._string()
        else:
            self._skip(_PLAIN_VALUE)

    def _list(self, path: KeyPath) -> None:
        index = 0
        while True:
            self._skip(_BLANK)
            if self._take("]"):
                return
            self._define((*path, index))
            self._value((*path, index))
            index += 1
            self._skip(_BLANK)
            if not self._take(","):
                self._need("]")
                return

    def _inline(self, path: KeyPath) -> None:
        while True:
            self._skip(_BLANK)
            if self._take("}"):
                return
            self._pair(path)
            self._skip(_BLANK)
            if not self._take(","):
                self._need("}")
                return

    def _keys(self) -> list[str]:
        keys = [self._key()]
        while self._take_spaced("."):
            keys.append(self._key())
        return keys

    def _key(self) -> str:
        self._skip(_SPACES)
        bare = _BARE_KEY.match(self.text, self.at)
        if bare:
            self.at = bare.end()
            return bare[0]
        written = self._string()
        try:
            read = tomllib.loads(f"key = {written}")["key"]
        except tomllib.TOMLDecodeError as error:
            raise _Lost from error
        return str(read)

    def _string(self) -> str:
        for pattern in _STRINGS:
            match = pattern.match(self.text, self.at)
            if match:
                self.at = match.end()
                return match[0]
        raise _Lost

    # -- small steps -----------------------------------------------------------------------

    def _skip(self, pattern: re.Pattern[str]) -> bool:
        """Step over a pattern; whether any text is left."""
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()
        return self.at < len(self.text)

    def _take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def _take_spaced(self, mark: str) -> bool:
        self._skip(_SPACES)
        return self._take(mark)

    def _need(self, mark: str) -> None:
        if not self._take_spaced(mark):
            raise _Lost

    def _line(self) -> int:
        return bisect_right(self._newlines, self.at - 1) + 1

    def _note(self, path: KeyPath) -> None:
        """A table that is only named on the way to something below it."""
        self.lines.setdefault(path, self._line())

    def _define(self, path: KeyPath) -> None:
        line = self._line()
        if path in self._explicit:
            self.twice.append(Twice(path=path, first=self.lines[path], second=line))
            return
        self._explicit.add(path)
        self.lines[path] = line
