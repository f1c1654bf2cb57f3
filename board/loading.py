"""A log folder on the disk to a snapshot: the register, every file, the state as of a moment."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from board.mill import Mill
from board.record.cache_folder import default_cache_folder
from board.record.files import (
    FolderEmpty,
    FolderMissing,
    Lack,
    Skipped,
    read_file,
    read_register_file,
)
from board.record.listing import list_logs
from board.record.register import read_register
from board.record.register_fields import RegisterFault
from board.record.shelf import Shelf
from board.record.sweep import REGISTER_NAME
from board.shell import CannotRun, Shell
from board.show.text import clean
from board.snapshot import Snapshot, snapshot
from grammar.decoding import LONGEST_LINE
from grammar.frozen import dataclass
from grammar.readings import Carried, LastLine, Reading
from grammar.times import NoSuchTime, NoTime, read_full, resolve
from grammar.vocabulary import Vocabulary

if TYPE_CHECKING:
    from board.index.index import Index
    from grammar.reader import Reader


NO_INDEX = "none"  # the name that asks for none


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A folder as it was read."""

    folder: Path
    mill: Mill
    snapshot: Snapshot


def folder_of(named: str | None, environ: Mapping[str, str]) -> Path:
    """The log folder: as named, else of the environment, else the present one."""
    return Path(named or environ.get("LOOMSLATE_LOGS") or ".")


def read_mill(folder: Path) -> Mill | str:
    """The register of a folder, or one sentence why there is none."""
    data = read_register_file(folder)
    if isinstance(data, Skipped):
        if not folder.is_dir():
            return f"there is no folder {folder}"
        if data.lack is Lack.ABSENT:
            return _no_register(folder)
        return f"{folder} holds no register that can be read: {data.sentence}"
    mill = read_register(data)
    return mill.sentence if isinstance(mill, RegisterFault) else mill


def _no_register(folder: Path) -> str:
    return f"{folder} holds no {REGISTER_NAME}"


def mill_or_stop(folder: Path) -> Mill:
    """The register of a folder. Raises CannotRun with the isolations on record as raw lines."""
    mill = read_mill(folder)
    if mill == _no_register(folder):
        mill += "; name a log folder with --folder"
    if isinstance(mill, str):
        raise CannotRun(mill, already_told=raw_isolations(folder))
    return mill


def grammar_cache(environ: Mapping[str, str]) -> str | None:
    """Where the built grammar is kept between runs, or None where nothing can be kept."""
    folder = default_cache_folder(environ)
    return str(folder / "grammar-{}.cache") if folder else None


def reader_for(vocabulary: Vocabulary, environ: Mapping[str, str]) -> Reader:
    """A reader for a mill's words, its grammar kept between runs where that is possible."""
    import hashlib

    from grammar.phrases import reading_grammar
    from grammar.reader import Reader

    pattern = grammar_cache(environ)
    if pattern is None:
        return Reader(vocabulary)
    text = reading_grammar(vocabulary)
    cache = pattern.format(hashlib.sha256(text.encode()).hexdigest()[:16])
    try:
        return Reader(vocabulary, cache=cache)
    except Exception:  # a damaged cache must never keep the board from showing
        with suppress(OSError):
            Path(cache).unlink(missing_ok=True)
        return Reader(vocabulary)


@dataclass(slots=True)
class ReaderWhenNeeded:
    """A reader that is made when the first log is read: where nothing changed it never is."""

    vocabulary: Vocabulary
    environ: Mapping[str, str]
    _reader: Reader | None = None

    def read(self, data: bytes, last_line: LastLine, carried: Carried | None = None) -> Reading:
        """The reading of a log's bytes, as ``grammar.reader`` has it."""
        return self._made().read(data, last_line, carried)

    def expect(self, lines: int) -> None:
        """Make ready for so many lines."""
        self._made().expect(lines)

    def _made(self) -> Reader:
        if self._reader is None:
            self._reader = reader_for(self.vocabulary, self.environ)
        return self._reader


def load(
    folder: Path,
    mill: Mill,
    at: datetime | None,
    shell: Shell,
    index: str | None = None,
) -> Loaded:
    """Everything in a folder as of a moment. Raises CannotRun where no log can be read.

    ``index`` is the file of the index, ``none`` for none; an index that is no good is told of, and
    done without.
    """
    now = shell.clock()
    if wants_index(index):
        from board.indexed import by_index, snapshot_of

        def made(index: Index, shelf: Shelf) -> Loaded:
            snapshot = snapshot_of(index, shelf, at or now, now)
            return Loaded(folder=folder, mill=mill, snapshot=snapshot)

        loaded = by_index(folder, mill, made, now, shell, index)
        if loaded is not None:
            return loaded
    progress = Progress(shell)
    shelf = Shelf(folder, ReaderWhenNeeded(mill.vocabulary, shell.environ))
    shelf.look(now, progress)
    progress.ends()
    stop_if_missing(shelf)
    whole = snapshot(shelf.readings, mill, at or now, shelf.notices)
    return Loaded(folder=folder, mill=mill, snapshot=whole)


def wants_index(named: str | None) -> bool:
    """Whether the option for the index, where it was given, does not ask for none."""
    return named is None or named.casefold() != NO_INDEX


def stop_if_missing(shelf: Shelf) -> None:
    """Raises CannotRun where the folder itself cannot be read."""
    if shelf.missing:
        raise CannotRun(shelf.missing)


_SILENT_S = 1.0  # [s] of reading without a word
_EVERY_S = 0.25


class Progress:
    """Tells how far the reading is, once it has taken a while."""

    def __init__(self, shell: Shell) -> None:
        self._shell = shell
        self._next = time.monotonic() + _SILENT_S
        self._told = False

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if now >= self._next:
            self._next, self._told = now + _EVERY_S, True
            self._shell.progress(done, total)

    def ends(self) -> None:
        """Wipe away what was told."""
        if self._told:
            self._told = False
            self._shell.progress_ends()


def moment_asked(written: str | None, mill: Mill) -> datetime | None:
    """The moment that ``--at`` names, in UTC. Raises CannotRun for no ISO 8601 time."""
    if written is None:
        return None
    return moment_of(written, mill, "--at")


def moment_of(written: str, mill: Mill, option: str) -> datetime:
    """A moment of an option, local to the shed where no offset is given. Raises CannotRun."""
    text = written.strip().casefold()
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        text += "t00:00"
    try:
        wall = read_full(text)
        if wall is not None:
            return resolve(wall, mill.zone, second_pass=False).when
    except NoSuchTime:
        raise CannotRun(
            f"{option}: the clocks went forward over {clean(written)}; take a time before or"
            " behind that hour"
        ) from None
    except NoTime:
        pass
    raise CannotRun(f"{option} takes a time like 2026-11-25T06:00, not {clean(written)}")


# -- when the register is wrong ------------------------------------------------------------

_SHOWN = 200  # [characters] of a line that is too long for any reader
_ISOLATED = re.compile(r"\bisol|(?<!thread-)(?<!thread )\block(?!step)", re.IGNORECASE)
_REMOVED = re.compile(r"\block\s+removed\s+by\b", re.IGNORECASE)
_NAME = re.compile(r"\bisolated\s+by\s+(\S+)", re.IGNORECASE)
_OWNER = re.compile(r"\block\s+removed\s+by\s+(\S+?)(?:\s+for\s+(\S+?))?\s*(?:;|$)", re.IGNORECASE)


def raw_isolations(folder: Path) -> str:
    """Every line that records an isolation not removed, as raw text, read without the register.

    The mill's own words are not known here, so a line counts as removed only by the language's
    own words for the same loom and person, later in the order of files and lines.
    """
    listing = list_logs(folder) if folder.is_dir() else None
    if listing is None or isinstance(listing, FolderMissing | FolderEmpty):
        return ""
    standing: dict[tuple[str, str, int], str] = {}
    now = datetime.now(UTC)
    for log in listing.logs:
        file = read_file(log, now)
        if isinstance(file, Skipped):
            continue
        text = file.data.decode("utf-8", errors="replace")
        for number, line in enumerate(text.split("\n"), start=1):
            if line.startswith("#") or not _ISOLATED.search(line):
                continue
            _note_isolation(standing, log.path, number, line.rstrip("\r"))
    if not standing:
        return ""
    head = "The register cannot be read. Lines that record an isolation, with none that removes it:"
    return "\n".join([head, *(f"  {clean(line)}" for line in standing.values())])


def _shortened(line: str) -> str:
    """A line of a log in the length that a reader takes; a runaway one must not fill the screen.

    Of that its beginning is shown, and what stands around its first words of isolation.
    """
    if len(line) <= LONGEST_LINE:
        return line
    found = _ISOLATED.search(line)
    at = max(found.start() - _SHOWN // 2, 0) if found is not None else 0
    around = f" {line[max(at, _SHOWN) : at + 2 * _SHOWN]}~" if at > 0 else ""
    return f"{line[:_SHOWN]}~{around} ({len(line):,} characters)"


def _note_isolation(
    standing: dict[tuple[str, str, int], str], path: str, number: int, line: str
) -> None:
    words = line.split()
    loom = re.sub(r"(?<![0-9])0+(?=[0-9])", "", words[1].casefold()) if len(words) > 1 else ""
    for removed in _OWNER.finditer(line):
        owner = (removed[2] or removed[1]).casefold()
        for key in [k for k in standing if k[0] == loom and standing_owner(standing[k]) == owner]:
            del standing[key]
    if _NAME.search(line) or not _REMOVED.search(line):
        standing[loom, path, number] = f"{_shortened(line)}   ({path} line {number})"


def standing_owner(line: str) -> str:
    """The person that a raw line says isolated a loom, folded; empty where it names none."""
    match = _NAME.search(line)
    return match[1].casefold().rstrip(";") if match else ""
