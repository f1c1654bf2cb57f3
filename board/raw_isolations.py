"""The isolations on record as raw lines, where the register cannot be read.

No line is read by the grammar then: looms and parts are not known. What may still isolate is told,
rather a line too many than one too few.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from board.record.files import FolderEmpty, FolderMissing, Skipped, read_file, read_register_file
from board.record.listing import list_logs
from board.show.must_see import CAUTION
from board.show.text import clean
from grammar.decoding import LONGEST_LINE
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.lock_beside import another, nobody

_SHOWN = 200  # [characters] of a line that is too long for any reader
_HALF_A_DAY = 12 * 60  # [min] a removal that is earlier by more was written after midnight
_TOLD = re.compile(r"\bisol|(?<!thread-)(?<!thread )\block(?!step)", re.IGNORECASE)
_HEADING = re.compile(r"\s*day\b", re.IGNORECASE)
_TIME = re.compile(r"(?:\S*t)?([0-9]{1,2}):?([0-9]{2})(?![0-9])", re.IGNORECASE)
_STRUCK = re.compile(r"\bstruck\s+(\S+)", re.IGNORECASE)
_HEAD = (
    "The register cannot be read. Lines that record an isolation, with none that removes it; there"
    f" may be more. {CAUTION}"
)


class _Words:
    """The language's words of isolation, and of the mill's those that can be made out."""

    def __init__(self, register: bytes) -> None:
        own = dict(_pairs(register))
        by = _any("by", own)
        isolated = rf"(?:{_any('isolated by', own)}|{_any('isolated', own)}\s+{by})"
        lock = rf"(?:{_any('lock removed by', own)}|{_any('lock removed', own)}\s+{by})"
        seen = rf"(?:{_any('lock seen by', own)}|{_any('lock seen', own)}\s+{by})"
        flags = re.IGNORECASE
        self.name = re.compile(rf"(?<!\w){isolated}\s+([^\s;]+)([^;]*)", flags)
        self.off = re.compile(rf"\s*{lock}\s+([^\s;]+?)(?:\s+for\s+([^\s;]+?))?[\s.,]*\Z", flags)
        self.seen = re.compile(rf"(?<!\w){seen}\s+[^\s;]+", flags)
        words = "|".join(
            _any(phrase, own) for phrase in ("isolated", "isolated by", "lock removed")
        )
        self.told = re.compile(
            rf"{_TOLD.pattern}|(?<!\w)(?:{words}|{_any('lock removed by', own)})(?!\w)", flags
        )


def _pairs(register: bytes) -> Iterator[tuple[str, str]]:
    """The aliases of a register that may be wrong in other places."""
    try:
        tables = tomllib.loads(register.decode("utf-8", "replace")).get("words")
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    for table in tables.values() if isinstance(tables, dict) else ():
        for word, phrase in table.items() if isinstance(table, dict) else ():
            if isinstance(phrase, str) and word.strip():
                yield word, fold_word(phrase)


def _any(phrase: str, own: dict[str, str]) -> str:
    """What finds a phrase of the language, or the mill's words for it."""
    ways = [phrase, *(word for word, meaning in own.items() if meaning == phrase)]
    return "(?:" + "|".join(r"\s+".join(map(re.escape, way.split())) for way in ways) + ")"


@dataclass(slots=True)
class _Raw:
    """A line that isolates: whose locks of it are still on, and where in its log it stands."""

    text: str
    owners: set[str]
    more: bool  # it may tell of a lock of which no owner was made out
    heading: tuple[str, int]
    minute: int | None


@dataclass(slots=True)
class _Off:
    """A removal: what it took off, so that it can be struck."""

    minute: int | None
    owner: str
    key: tuple[str, int]
    raw: _Raw


class _Standing:
    """The lines that isolate and are not removed, in the order of files and lines."""

    def __init__(self, words: _Words) -> None:
        self._words = words
        self._lines: dict[str, dict[tuple[str, int], _Raw]] = defaultdict(dict)  # by loom
        self._off: dict[str, list[_Off]] = defaultdict(list)
        self._heading = ("", 0)

    def texts(self) -> list[str]:
        """What stands, each line with its place."""
        found = [(key, raw.text) for lines in self._lines.values() for key, raw in lines.items()]
        return [f"{text}   ({path} line {number})" for (path, number), text in sorted(found)]

    def line(self, path: str, number: int, line: str) -> None:
        """The next line of a log."""
        if line.startswith("#"):
            return
        if _HEADING.match(line):
            self._heading = (path, number)
            return
        struck = _STRUCK.search(line)
        if struck is None and not self._words.told.search(line):
            return
        head = line.split(None, 2)
        loom = re.sub(r"(?<![0-9])0+(?=[0-9])", "", fold_word(head[1])) if len(head) > 1 else ""
        minute = _minute(head[0]) if head else None
        if struck is not None:
            self._restore(loom, _minute(struck[1]))
        self._note(loom, (path, number), minute, line)

    def _note(self, loom: str, key: tuple[str, int], minute: int | None, line: str) -> None:
        owners: set[str] = set()
        more = self._words.told.search(line, LONGEST_LINE) is not None
        head = line[:LONGEST_LINE].split(None, 2)
        for piece in head[2].split(";") if len(head) > 2 else head:
            off = self._words.off.match(piece)
            if off is not None:
                self._remove(loom, fold_word(off[2] or off[1]), minute)
                continue
            for name in self._words.name.finditer(piece):
                owners.add(fold_word(name[1].rstrip(".,")))
                more = more or another(name[1], name[2][:_SHOWN]) is not None
                more = more or nobody(name[1], name[2][:_SHOWN])
            rest = self._words.seen.sub(" ", self._words.name.sub(" ", piece))
            more = more or self._words.told.search(rest) is not None
        if owners or more:
            self._lines[loom][key] = _Raw(_shortened(line), owners, more, self._heading, minute)

    def _remove(self, loom: str, owner: str, minute: int | None) -> None:
        for key, raw in list(self._lines[loom].items()):
            if owner in raw.owners and not self._is_later(raw, minute):
                raw.owners.discard(owner)
                self._off[loom].append(_Off(minute, owner, key, raw))
                if not raw.owners and not raw.more:
                    del self._lines[loom][key]

    def _is_later(self, raw: _Raw, minute: int | None) -> bool:
        """Whether an isolation is later than a removal that stands below it, by their times."""
        if raw.minute is None or minute is None or raw.heading != self._heading:
            return False
        return 0 < raw.minute - minute < _HALF_A_DAY

    def _restore(self, loom: str, minute: int | None) -> None:
        for off in self._off[loom]:
            if off.minute == minute:
                off.raw.owners.add(off.owner)
                self._lines[loom][off.key] = off.raw


def _minute(word: str) -> int | None:
    found = _TIME.match(word)
    return int(found[1]) * 60 + int(found[2]) if found else None


def _shortened(line: str) -> str:
    """A line of a log in the length that a reader takes; a runaway one must not fill the screen.

    Of that its beginning is shown, and what stands around its first words of isolation.
    """
    if len(line) <= LONGEST_LINE:
        return line
    found = _TOLD.search(line)
    at = max(found.start() - _SHOWN // 2, 0) if found is not None else 0
    around = f" {line[max(at, _SHOWN) : at + 2 * _SHOWN]}~" if at > 0 else ""
    return f"{line[:_SHOWN]}~{around} ({len(line):,} characters)"


def raw_isolations(folder: Path) -> str:
    """Every line that records an isolation not removed, as raw text, read without the register.

    A line counts as removed by ``lock removed`` for the same loom and person, later in the order of
    files and lines, unless its time is the earlier one or it was struck. The mill's own words are
    known where the register is TOML at least.
    """
    listing = list_logs(folder) if folder.is_dir() else None
    if listing is None or isinstance(listing, FolderMissing | FolderEmpty):
        return ""
    register = read_register_file(folder)
    standing = _Standing(_Words(b"" if isinstance(register, Skipped) else register))
    now = datetime.now(UTC)
    for log in listing.logs:
        file = read_file(log, now)
        if isinstance(file, Skipped):
            continue
        text = file.data.decode("utf-8", errors="replace").replace("\0", "")
        for number, line in enumerate(text.split("\n"), start=1):
            standing.line(log.path, number, line.rstrip("\r"))
    texts = standing.texts()
    return "\n".join([_HEAD, *(f"  {clean(text)}" for text in texts)]) if texts else ""
