"""The prompt of ``write``: one entry after the other, each shown as understood before it is kept.

Asks who writes, and again when the shift changes. Nothing is written without an Enter after its
understanding was shown, no suggestion is taken by itself, and what was typed is never dropped
without being shown once more.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime

from board.clock_typed import shift_of
from board.desk import Against, Desk, Held, Lost, OfLocks, Put
from board.judging import Judged
from board.line_editor import CutShort, Editor, LineEditor
from board.record.unwritten import keep_unwritten, take_unwritten
from board.shell import FINE, FOUND_WANTING, INTERRUPTED, CannotRun, Shell
from board.show.entry_screen import (
    CAME_WITH,
    HELP,
    NO_ISOLATION,
    NOT_REMOVED,
    complaint_lines,
    folded,
    held_lines,
    looked_lines,
    lost_lines,
    put_lines,
    stands_already,
    unwritten_lines,
)
from board.show.lines import Line, Tone
from board.show.moments import long_clock
from board.show.text import clean
from board.state.fleet import Complaint
from board.terminal import SignalledToEnd
from board.writing import ODD_BYTES, no_entry, readable, suggested
from grammar.continuing import Continuations
from grammar.entries import Shift


def prompt(desk: Desk, shell: Shell, *, who: str | None, fixed: datetime | None) -> int:
    """Ask for entries until the end of the input, and return the exit code."""
    words = Continuations(desk.mill.vocabulary)

    def complete(line: str) -> list[str]:
        place = line.split(None, 2)
        return words.of(line, desk.writers(), lambda: desk.open_numbers(place))

    with LineEditor(complete) as editor:
        return Prompt(desk=desk, shell=shell, editor=editor, fixed=fixed, who=who).run()


@dataclass(slots=True, kw_only=True)
class Prompt:
    """One sitting at the prompt."""

    desk: Desk
    shell: Shell
    editor: Editor
    fixed: datetime | None = None
    who: str | None = None
    _shift: Shift | None = None
    _pending: str = ""  # typed and not written
    _left: list[str] = field(default_factory=list)  # of an earlier sitting, not asked again yet
    _waiting: list[str] = field(default_factory=list)  # typed or pasted before they were asked for

    def run(self) -> int:
        """Ask until the input ends."""
        try:
            self._greet()
            while True:
                self._one()
        except CutShort as cut:
            return self._ended(cut.begun, cut.cause)
        except (KeyboardInterrupt, SignalledToEnd) as cut:
            return self._ended("", cut)
        except OSError as gone:  # the terminal went away under what was being shown
            return self._ended("", gone)
        except Exception as fault:  # whatever ends the sitting, the line in hand is told and kept
            self._ended("", fault)
            raise

    @property
    def _now(self) -> datetime:
        return self.fixed or self.shell.clock()

    # -- talking ---------------------------------------------------------------------------

    def _greet(self) -> None:
        mill = self.desk.mill
        self._say(f"{mill.name}, {long_clock(self._now, mill.zone)}. Write an entry; ? for help.")
        self._say("Nothing is written before it was shown and you press Enter.")
        left = take_unwritten(self.desk.folder, self.shell.environ)
        if left is not None:
            when = long_clock(left.when, mill.zone)
            self._say(f"NOT WRITTEN when the line broke, {when}; Up brings it back:", Tone.DANGER)
            self._left = [*left.lines]
            for line in self._left:
                self._say(line)
                self.editor.remember(line)

    def _say(self, text: str, tone: Tone = Tone.PLAIN) -> None:
        self._show(folded(text, self._cells, tone, indent=""))

    def _show(self, lines: list[Line]) -> None:
        self.shell.show(lines, ascii_only=False)
        self.shell.stdout.flush()

    @property
    def _cells(self) -> int:
        return max(self.shell.facts.width, 40)

    # -- who -------------------------------------------------------------------------------

    def _writer(self) -> bool:
        """Asks who writes where that is not known for this shift; whether it was asked."""
        shift = shift_of(self._now, self.desk.mill)
        if self.who is not None and self._shift in (None, shift):
            self._shift = shift
            return False
        if self._shift not in (None, shift):
            self._say(f"the {shift.name} has begun: who writes now?", Tone.ABNORMAL)
        self._shift, self.who = shift, None
        while self.who is None:
            lines = self._lines_of(self._chosen("who writes (initials)? "))
            named = lines[0].strip() if lines else ""
            if not named:
                continue
            if len(lines) > 1 or self._is_entry(named):
                self._waiting += lines
                self._say("first who writes, like KM; what was typed is asked after that")
                continue
            if self.desk.mill.vocabulary.place(named) is not None:
                self._say(f"{named} is a place in the shed; first who writes, like KM")
                continue
            try:
                self.who = self.desk.named(named)
            except CannotRun as refused:
                self._say(refused.sentence)
        return True

    # -- one entry -------------------------------------------------------------------------

    def _one(self) -> None:
        self._pending = ""
        self._writer()
        if self._waiting:
            typed = self._waiting.pop(0)
            self._say(f"{self._before_entries}{typed}")
        else:
            typed = self._asked()
        if typed.strip() in ("?", "help"):
            for line in HELP:
                self._say(line)
        elif typed.strip():
            self._entry(typed.strip())

    @property
    def _before_entries(self) -> str:
        assert self._shift is not None
        return f"{self._shift.name} {self.who}> "

    def _asked(self, begun: str = "") -> str:
        if begun:
            self._take_waiting()
        typed = self.editor.ask(self._before_entries, begun)
        first, *more = self._lines_of(typed) or [""]
        self._waiting += more
        self._pending = first or self._pending
        self._take_waiting()
        return first

    def _take_waiting(self) -> bool:
        """Takes what came before it was asked for, so that it answers nothing; whether any did."""
        before = len(self._waiting)
        came = False
        while self.editor.waiting():
            came = True
            try:
                self._waiting += self._lines_of(self.editor.ask(self._before_entries))
            except CutShort as cut:
                self._waiting += self._lines_of(cut.begun)
                raise CutShort("", cut.cause) from cut
        if more := len(self._waiting) - before:
            self._say(f"{'1 line' if more == 1 else f'{more} lines'} {CAME_WITH}")
        return came

    def _chosen(self, question: str) -> str:
        """A short answer. Where it is cut short, what stood there is told as not written."""
        try:
            return self.editor.choose(question)
        except CutShort as cut:
            self._waiting += [x for x in self._lines_of(cut.begun) if len(x.split()) > 1]
            raise CutShort("", cut.cause) from cut

    def _is_entry(self, typed: str) -> bool:
        """Whether it is rather an entry than a name that is wrong."""
        words = typed.split()
        placed = any(self.desk.mill.vocabulary.place(word) for word in words[:2])
        locks = self.desk.of_locks(typed) is not OfLocks.NEITHER
        return len(words) > 2 or (len(words) == 2 and (placed or locks))

    def _lines_of(self, typed: str) -> list[str]:
        """The lines of what was typed or pasted that are not blank, each as a log is read."""
        given = [line for line in typed.splitlines() if line.strip()]
        lines = [readable(line) for line in given]
        if lines != given:
            self._say(ODD_BYTES, Tone.ABNORMAL)
        return lines

    def _entry(self, typed: str) -> None:
        """Shows, asks and writes one entry, however often it is edited."""
        self._left = [line for line in self._left if line.strip() != typed]
        again: str | None = typed
        while again is not None:
            self._pending = again
            again = self._shown(again)
        self._pending = ""

    def _shown(self, typed: str) -> str | None:
        """One round; the line to go on with, or None when it is done with."""
        fault = no_entry(typed, self.desk.mill.vocabulary)
        if fault is not None:
            self._show(complaint_lines(Complaint(path="", diagnostic=fault), self._cells))
            return self._edited(typed)
        asked_again = self._writer()
        now = self._now
        try:
            judged = self.desk.look(typed, self.who, now)
        except CannotRun as lost:
            self._say(lost.sentence, Tone.DANGER)
            return self._after_loss(typed)
        while True:
            self._show(looked_lines(judged, self._cells))
            if asked_again:
                self._say(f"it will be written by {self.who}")
            outcome = self._decided(typed, judged, now)
            match outcome:
                case Held():
                    self._say("the log has changed meanwhile; look again:", Tone.ABNORMAL)
                    judged = outcome.judged
                case Lost():
                    self._show(lost_lines(outcome.judged, self._cells))
                    self._say(outcome.sentence, Tone.DANGER)
                    return self._after_loss(typed)
                case Put():
                    self._show(put_lines(outcome.judged, outcome.line, self._cells))
                    self.editor.remember(typed)
                    return None
                case _:
                    return outcome

    def _decided(self, typed: str, judged: Judged, now: datetime) -> Put | Lost | Held | str | None:
        """What becomes of a line that was shown: written, edited (the new line) or dropped."""
        shown = looked_lines(judged, self._cells)
        if not judged.refused:
            answer = self._answer("Enter writes it; e edits, x drops: ", ("", "e", "x"), shown)
            if answer == "":
                if self._writer():
                    return typed  # the shift has changed while it waited: shown again first
                return self._write(typed, judged, now, Against.REFUSE)
            return self._edited(typed) if answer == "e" else self._dropped(typed)
        held = held_lines(judged, self._cells)
        self._show(held)
        if stands_already(judged):
            self._pending = ""  # it is in no danger to be lost
        refused = [complaint.diagnostic for complaint in judged.refused]
        near = suggested(judged.draft, refused, now, self.desk.mill, self.desk.reader)
        offer = f" s edits {near!r}," if near is not None else ""
        choices = ("", "e", "x", "a", "s") if near is not None else ("", "e", "x", "a")
        question = f"Enter edits it;{offer} a keeps it anyway, x drops: "
        match self._answer(question, choices, [*shown, *held]):
            case "a":
                return self._write(typed, judged, now, Against.KEEP)
            case "x":
                return self._dropped(typed)
            case "s":
                return self._edited(near or typed)
            case _:
                return self._edited(typed)

    def _write(
        self, typed: str, seen: Judged, now: datetime, against: Against
    ) -> Put | Lost | Held:
        try:
            return self.desk.write(typed, self.who, now, against, seen)
        except CannotRun as gone:  # the folder went away since the line was shown
            return Lost(judged=seen, sentence=gone.sentence)

    def _answer(self, question: str, choices: tuple[str, ...], shown: Iterable[Line] = ()) -> str:
        """One of the choices, typed after what was ``shown`` for it."""
        while True:
            while self._take_waiting():
                self._show([*shown])
            typed = self._chosen(question)
            answer = typed.strip().casefold()
            if answer in choices:
                return answer
            told = "nothing was written yet"
            if len(answer.split()) > 1:  # perhaps the next entry, typed too early
                self._waiting += self._lines_of(typed)
                self._say(f"{told}: answer this first; what you typed is kept and comes after it")
            else:
                self.editor.remember(typed.strip())
                self._say(f"{told}: that is no answer to this; Up brings it back later")

    def _edited(self, typed: str) -> str | None:
        return self._asked(typed).strip() or self._dropped(typed)

    def _dropped(self, typed: str) -> str | None:
        self.editor.remember(typed)
        self._say(f"not written: {clean(typed)}")
        locks = self.desk.of_locks(typed) if self._pending else OfLocks.NEITHER
        if locks is OfLocks.PUT_ON:
            self._say(NO_ISOLATION, Tone.DANGER)
        elif locks is OfLocks.TAKEN_OFF:
            self._say(f"{NOT_REMOVED}: a lock on record stays on record", Tone.DANGER)
        return None

    def _after_loss(self, typed: str) -> str | None:
        answer = self._answer("Enter tries again; e edits, x drops: ", ("", "e", "x"))
        if answer == "e":
            return self._edited(typed)
        return typed if answer == "" else self._dropped(typed)

    # -- the end ---------------------------------------------------------------------------

    def _ended(self, begun: str, cause: BaseException) -> int:
        """Leaves nothing behind unseen: the line in hand and those that were pasted after it."""
        lines = [line for line in (begun.strip() or self._pending, *self._waiting) if line.strip()]
        told = False
        with suppress(OSError, CannotRun):
            self.shell.stdout.write("\n")
            if lines:
                isolates = any(self.desk.of_locks(x) is OfLocks.PUT_ON for x in lines)
                self._show(unwritten_lines(lines, self._cells, isolates))
            self.shell.stdout.flush()
            told = True
        kept = [*self._left, *lines]
        if kept and not (told and isinstance(cause, KeyboardInterrupt | EOFError)):
            keep_unwritten(kept, self.shell.clock(), self.desk.folder, self.shell.environ)
        if isinstance(cause, SignalledToEnd):
            raise cause
        if isinstance(cause, KeyboardInterrupt):
            return INTERRUPTED
        return FOUND_WANTING if lines else FINE
