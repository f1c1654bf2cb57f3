"""``write``: checks one entry, says what was understood, and appends it to the log."""

from __future__ import annotations

import gc
import io
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Any

from board.commands.options import add_index
from board.desk import Against, Desk, Held, Lost, OfLocks, Put
from board.judging import Judged
from board.loading import Progress, folder_of, moment_asked, read_mill, reader_for
from board.shell import COULD_NOT, FINE, FOUND_WANTING, CannotRun, Shell
from board.show.cautions import cautions, remarks
from board.show.doubts import doubts
from board.show.entry_screen import (
    held_lines,
    isolations_alone,
    looked_lines,
    lost_lines,
    not_tried_lines,
    put_lines,
    unwritten_lines,
)
from board.show.lines import Line
from board.show.problems import complaint_record, drawn
from board.show.understood import understood
from board.state.fleet import Complaint
from board.writing import no_entry, readable

if TYPE_CHECKING:
    from board.bearing import Bearing
from grammar.diagnostics import Diagnostic
from grammar.frozen import dataclass

SUMMARY = "check one entry, say what was understood, and append it"
EXAMPLE = "loomslate write 'A07 left tape 2.35 mm; note frays at the joint' --by KM"

_LONGEST_PIPE = 1_000_000  # lines; a pipe that never ends must not fill memory with --json


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument(
        "entry",
        nargs="*",
        metavar="'ENTRY'",
        help="one entry in quotes, since a shell cuts at ; and the time left out or first;"
        " without it a prompt, or from a pipe one entry a line: each is written or refused by"
        " itself, and the exit code is 1 if any was refused",
    )
    parser.usage = "%(prog)s ['ENTRY'] [options]"
    parser.add_argument("--by", metavar="WHO", help="who writes; else the entry's own by WHO")
    parser.add_argument(
        "--anyway", action="store_true", help="keep a refused entry too, with: note kept anyway"
    )
    parser.add_argument(
        "--folder", metavar="DIR", help="the log folder; else LOOMSLATE_LOGS, else here"
    )
    parser.add_argument("--at", metavar="TIME", help="take this for now, like 2026-11-25T06:00")
    add_index(parser)
    parser.add_argument("--json", action="store_true", help="one JSON document")
    parser.add_argument("--ascii", action="store_true", help="plain letters only")
    parser.add_argument("--width", type=int, metavar="N", help="columns; else the terminal's")


def run(options: Namespace, shell: Shell) -> int:
    """Write what was given: an argument, lines of a pipe, or what is typed at the prompt."""
    entry = _one(options.entry)
    if entry is None:
        gc.enable()  # a sitting at the prompt, or a pipe, may last a shift
    folder = folder_of(options.folder, shell.environ)
    mill = read_mill(folder)
    if isinstance(mill, str):
        raise CannotRun(f"nothing was written: {mill}")
    reader = reader_for(mill.vocabulary, shell.environ)

    def bearing() -> Bearing:
        from board.bearing import Bearing  # the index is loaded only where there are many logs

        progress = Progress(shell)
        found = Bearing(folder, mill, reader, options.index, shell.environ, shell.clock, progress)
        shell.at_end.callback(found.close)
        return found

    desk = Desk(folder, mill, reader, shell.clock, bearing)
    who = _who(options.by, desk, shell)
    fixed = moment_asked(options.at, mill)
    task = _Task(options=options, shell=shell, desk=desk, who=who, fixed=fixed)
    if isinstance(shell.stdin, io.TextIOWrapper):
        shell.stdin.reconfigure(errors="surrogateescape")  # a byte that is no UTF-8 ends no pipe
    task.cells()  # refused before anything is written
    if entry is not None:
        return task.single(entry)
    if _at_terminal(shell) and not options.json:
        from board.prompt import prompt

        return prompt(desk, shell, who=who, fixed=fixed)
    if shell.stdin is None:
        raise CannotRun("no entry was given, and there is no standard input to read from")
    return task.piped(_lines(shell))


def _one(words: list[str]) -> str | None:
    if len(words) > 1:
        raise CannotRun(
            f"quote the entry: write takes one argument and got {len(words)}; a shell also cuts"
            " at ; outside of quotes, like: loomslate write 'A07 stopped; note noisy' --by KM"
        )
    if not words:
        return None
    if not words[0].strip():
        raise CannotRun("the entry is empty")
    return words[0]


def _who(given: str | None, desk: Desk, shell: Shell) -> str | None:
    """Who writes, as the option names them. Raises CannotRun for what is no name."""
    if given is None:
        return None
    named = readable(given)
    if named != given:
        shell.warn(f"--by is not UTF-8 and was read as Windows-1252: {named}")
    return desk.named(named)


def _at_terminal(shell: Shell) -> bool:
    try:
        return shell.stdin is not None and shell.stdin.isatty() and shell.stdout.isatty()
    except ValueError:
        return False


def _interrupted(outcome: Put | Lost | Held | None, appending: str) -> str:
    """What became of a line, for whoever pressed Ctrl-C meanwhile."""
    if isinstance(outcome, Put):
        return f"interrupted: the line was written, {outcome.judged.path} line {outcome.line}"
    if appending:
        return f"interrupted while the line was being written: look at the end of {appending}"
    return "interrupted: nothing was written"


def _lines(shell: Shell) -> Iterator[str]:
    """The entries of standard input; blank lines and comments are passed over, as in a log."""
    assert shell.stdin is not None
    try:
        for number, line in enumerate(shell.stdin):
            if number >= _LONGEST_PIPE:
                raise CannotRun(f"standard input has more than {_LONGEST_PIPE:,} lines")
            if line.strip() and not line.startswith("#"):
                yield line.rstrip("\r\n")
    except UnicodeDecodeError:
        raise CannotRun("standard input is not UTF-8") from None


class _NoDesk(Exception):
    """An entry could not be looked at: its folder is gone, or nobody is named."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """One run of the command."""

    options: Namespace
    shell: Shell
    desk: Desk
    who: str | None
    fixed: datetime | None

    def single(self, entry: str) -> int:
        """One entry given as the argument."""
        try:
            code, record = self._write(entry)
        except _NoDesk as none:
            raise CannotRun(none.sentence) from None
        if self.options.json:
            self.shell.document(record)
        return code

    def piped(self, entries: Iterator[str]) -> int:
        """One entry a line: each is written or refused by itself, in its order."""
        records, codes, failed = [], [FINE], ""
        behind = False
        for entry in entries:
            if failed:  # the disk is full or the drive is gone: it would only be lost too
                code, record = self._not_tried(entry, failed, first=not behind)
                behind = True
            else:
                try:
                    code, record = self._write(entry)
                except _NoDesk as none:
                    code, record = self._not_looked_at(entry, none.sentence)
                failed = record["reason"] if code == COULD_NOT else ""
            codes.append(code)
            if self.options.json:
                records.append(record)
            self.shell.stdout.flush()
        if self.options.json:
            self.shell.document({"entries": records})
        elif len(codes) == 1:
            raise CannotRun("no entry was given, and standard input holds none")
        return max(codes)

    def _write(self, entry: str) -> tuple[int, dict[str, Any]]:
        desk = self.desk
        fault = no_entry(readable(entry), desk.mill.vocabulary)
        if fault is not None:
            return self._no_entry(entry, fault)
        against = Against.KEEP if self.options.anyway else Against.REFUSE
        now = self.fixed or self.shell.clock()
        outcome: Put | Lost | Held | None = None
        try:
            outcome = desk.write(entry, self.who, now, against)
            return self._told(outcome)
        except CannotRun as cannot:
            if outcome is not None:
                raise  # it was the output that failed
            raise _NoDesk(cannot.sentence) from None
        except KeyboardInterrupt:
            self.shell.warn(_interrupted(outcome, desk.appending))
            raise

    def _told(self, outcome: Put | Lost | Held) -> tuple[int, dict[str, Any]]:
        cells = self.cells()
        judged = outcome.judged
        match outcome:
            case Put():
                self._show([*looked_lines(judged, cells), *put_lines(judged, outcome.line, cells)])
                return FINE, _record(judged, outcome.line, "")
            case Held():
                self._show([*looked_lines(judged, cells), *held_lines(judged, cells)])
                return FOUND_WANTING, _record(judged, None, "the entry was refused")
            case Lost(sentence=sentence):
                self._show([*looked_lines(judged, cells), *lost_lines(judged, cells)])
                self.shell.warn(sentence)
                return COULD_NOT, _record(judged, None, sentence)

    def _no_entry(self, entry: str, fault: Diagnostic) -> tuple[int, dict[str, Any]]:
        complaint = Complaint(path="-", diagnostic=fault)
        if not self.options.json:
            self.shell.say(f"{drawn(complaint, self.cells())}\nnothing was written")
        record = _unread(entry, fault.message)
        return FOUND_WANTING, {**record, "complaints": [complaint_record(complaint)]}

    def _not_looked_at(self, entry: str, sentence: str) -> tuple[int, dict[str, Any]]:
        text = readable(entry)
        self._show(unwritten_lines([text], self.cells(), self._isolates(text)))
        self.shell.warn(sentence)
        return COULD_NOT, _unread(text, sentence)

    def _not_tried(self, entry: str, failed: str, *, first: bool) -> tuple[int, dict[str, Any]]:
        text = readable(entry)
        self._show(not_tried_lines(text, self.cells(), self._isolates(text), first=first))
        return COULD_NOT, _unread(text, failed)

    def _isolates(self, entry: str) -> bool:
        return self.desk.of_locks(entry) is OfLocks.PUT_ON

    def cells(self) -> int:
        """How many columns to write. Raises CannotRun for fewer than can be read."""
        asked: int | None = self.options.width
        if asked is not None and asked < 40:
            raise CannotRun("--width takes 40 columns or more")
        return asked or max(self.shell.facts.width, 40)

    def _show(self, lines: list[Line]) -> None:
        if not self.options.json:
            notices = self.desk.notices
            self.shell.show(lines, ascii_only=self.options.ascii)
            for notice in notices:
                self.shell.warn(notice)


def _unread(entry: str, reason: str) -> dict[str, Any]:
    """An entry that was not looked at, as JSON, and why not."""
    return {
        "written": False,
        "reason": reason,
        "path": None,
        "line": None,
        "text": readable(entry),
        "understood": [],
        "doubts": [],
        "cautions": [],
        "complaints": [],
    }


def _record(judged: Judged, line: int | None, reason: str) -> dict[str, Any]:
    """What one entry came to, as JSON."""
    draft = judged.draft
    return {
        "written": line is not None,
        "reason": reason or None,
        "path": draft.path if draft.who is not None else None,
        "line": line,
        "text": draft.line,
        "understood": [*understood(judged), *(isolations_alone(judged) if line else ())],
        "doubts": list(doubts(judged)),
        "cautions": [*remarks(judged), *cautions(judged)],
        "complaints": [complaint_record(c) for c in (*judged.own, *judged.elsewhere)],
    }
