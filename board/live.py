"""The live board: draws the newest picture, answers keys, leaves the terminal clean.

Drawing and keys are this thread's; the folder is kept by ``keeping`` on another one, which only
wakes this one. Without a terminal the board is printed once.
"""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Mapping, Sequence
from dataclasses import replace

from board.commands import options as shared
from board.index.index import MovedOn
from board.index.schema import Unusable
from board.keeping import Keeping, Picture
from board.keys import Key
from board.loading import mill_or_stop, moment_asked
from board.record.watch import Manner
from board.shell import FINE, Shell
from board.show.lines import Line, colours_of, in_ascii
from board.show.live_view import WALL_TURN_S, Frame, Looking, Wish, frame, pressed, turned
from board.show.screens import View, board_lines
from board.terminal import LiveTerminal, Notice, TerminalFacts, live_terminal

_TICK_S = 1.0  # [s] how often a screen that turns by itself is drawn
_IDLE_S = 60.0  # [s] how long one that does not is left alone
_NOTICE_S = 20.0  # [s] a notice stays in the last row; the help page has it for good
_WRONG_S = 8.0  # [s] it is told that a name is no loom's
_NOT_YET = "the page asked for comes with the next picture of the logs"


def watch(options: Namespace, shell: Shell) -> int:
    """Show the live board until it is ended."""
    folder = shared.folder(options, shell)
    mill = mill_or_stop(folder)
    facts = shell.facts
    if not facts.interactive:
        return _printed_once(options, shell)
    manner = Manner.POLLING if options.poll else Manner.AUTOMATIC
    assert shell.stdin is not None, "a terminal that is interactive has a keyboard"
    with live_terminal(shell.stdin, shell.stdout) as terminal:
        keeping = Keeping(
            folder,
            mill,
            environ=shell.environ,
            clock=shell.clock,
            manner=manner,
            on_new=terminal.wake,
            as_of=moment_asked(options.at, mill),
            index=options.index,
        )
        with keeping:
            _Live(terminal, keeping, facts, options, shell.environ).run()
    return FINE


def _printed_once(options: Namespace, shell: Shell) -> int:
    asked = shared.asked(options, shell)
    summary = shared.summary_of(asked, shell)
    view = View(width=shared.cells(options, shell), height=None)
    shell.show(board_lines(summary, view), ascii_only=options.ascii)
    shell.warn("no terminal to draw on: the board was printed once")
    return FINE


class _ForAWhile:
    """What is told for some seconds from when it came up, and then no more."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._told: object = None
        self._until = 0.0

    def is_over(self, told: object) -> bool:
        """Whether it has stood long enough; what differs from what was told begins anew."""
        now = time.monotonic()
        if told != self._told:
            self._told, self._until = told, now + self._seconds
        return now >= self._until

    @property
    def left_s(self) -> float:
        """How long [s] until something has to go; that of nothing, or gone, is without end."""
        left = self._until - time.monotonic()
        return left if self._told and left > 0 else float("inf")


class _Live:
    """The loop of one live board."""

    def __init__(
        self,
        terminal: LiveTerminal,
        keeping: Keeping,
        facts: TerminalFacts,
        options: Namespace,
        environ: Mapping[str, str],
    ) -> None:
        self._terminal = terminal
        self._keeping = keeping
        self._plain = options.ascii or not facts.unicode
        self._colours = colours_of(environ) if facts.colour else None
        self._wall = bool(options.wall)
        self._looking = Looking()
        self._rows = 1
        self._turning = False
        self._turn_at = time.monotonic() + WALL_TURN_S
        self._noticed = _ForAWhile(_NOTICE_S)
        self._wrong = _ForAWhile(_WRONG_S)

    def run(self) -> None:
        while True:
            self._draw()
            answer = self._terminal.read(self._patience_s())
            if answer is Notice.HUNG_UP:
                return
            if isinstance(answer, Key):
                self._looking, wish = pressed(
                    self._looking, answer, self._picture.summary, self._rows
                )
                if wish is Wish.END:
                    return
                self._turn_at = time.monotonic() + WALL_TURN_S  # what was asked for stays a while
            elif answer is Notice.RESIZED:
                self._terminal.repaint()
            if self._wall and time.monotonic() >= self._turn_at:
                self._turn_at = time.monotonic() + WALL_TURN_S
                self._looking = self._turned()

    def _patience_s(self) -> float:
        """How long [s] the screen is left alone where no key is pressed and nothing saved."""
        if self._wall or self._turning:
            return _TICK_S
        return min(_IDLE_S, self._noticed.left_s, self._wrong.left_s)

    @property
    def _picture(self) -> Picture:
        return self._keeping.picture

    def _view(self) -> View:
        width, height = self._terminal.size
        trouble = self._picture.trouble
        return View(width=width, height=height, not_current=trouble, plain=self._plain)

    def _turned(self) -> Looking:
        """The next page of a wall screen."""
        try:
            return turned(self._looking, self._picture.summary, self._view(), self._rows)
        except (MovedOn, Unusable):
            return Looking()

    def _draw(self) -> None:
        if self._wrong.is_over(self._looking.wrong):
            self._looking = replace(self._looking, wrong="")
        made = self._frame()
        self._wrong.is_over(made.looking.wrong)  # a new register may have taken a loom away
        self._looking, self._rows, self._turning = made.looking, made.rows, made.turning
        self._terminal.paint([self._text(line) for line in self._painted(made.lines)])

    def _painted(self, lines: Sequence[Line]) -> Sequence[Line]:
        """What is painted: in ASCII names may need more rows; the last, of keys, is kept."""
        if not self._plain:
            return lines
        rows, height = in_ascii(lines), self._terminal.size[1]
        return rows if len(rows) <= height else [*rows[: height - 1], rows[-1]]

    def _frame(self) -> Frame:
        """What is looked at; or the overview, where that can be told by the next picture alone."""
        picture, view, tick = self._picture, self._view(), time.monotonic()
        standing = picture.notices
        notices = () if self._noticed.is_over(standing) else standing
        try:
            return frame(
                picture.summary, self._looking, view, tick=tick, notices=notices, standing=standing
            )
        except (MovedOn, Unusable):
            notices = (_NOT_YET, *notices)
            made = frame(picture.summary, Looking(), view, tick=tick, notices=notices)
            return replace(made, looking=self._looking)

    def _text(self, line: Line) -> str:
        return line.plain if self._colours is None else line.ansi(self._colours)
