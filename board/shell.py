"""The outer ring: streams, environment and clock of the running process, handed in once.

Everything inside takes what it needs as a value; only this module, the command line and the live
board touch the process.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack, suppress
from dataclasses import field
from datetime import UTC, datetime
from typing import TextIO

from board.record.sweep import reason_of
from board.show.lines import Line, colours_of, in_ascii
from board.show.text import as_written, caret_moved, clean, to_ascii
from board.terminal import TerminalFacts, terminal_facts
from grammar.frozen import dataclass

FINE, FOUND_WANTING, COULD_NOT, INTERRUPTED = 0, 1, 2, 130


class CannotRun(Exception):
    """The command cannot run; the sentence says why. Ends the program with exit code 2."""

    def __init__(self, sentence: str, *, already_told: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.already_told = already_told  # goes to standard output before the sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """What a command may touch of its process."""

    stdin: TextIO | None
    stdout: TextIO
    stderr: TextIO
    environ: Mapping[str, str]
    clock: Callable[[], datetime]
    at_end: ExitStack = field(default_factory=ExitStack)  # what is let go of after the command

    @property
    def facts(self) -> TerminalFacts:
        """What the output can show."""
        return terminal_facts(self.environ, self.stdin, self.stdout)

    @property
    def piped(self) -> bool:
        """Whether the output is no terminal."""
        return not self.stdout.isatty()

    def say(self, text: str, *, ascii_only: bool | None = None) -> None:
        """Print a text to standard output, in ASCII where the output takes no more."""
        plain = not self.facts.unicode if ascii_only is None else ascii_only
        text = _cleaned_lines(text)
        self.put((to_ascii_lines(text) if plain else text) + "\n")

    def put(self, text: str) -> None:
        """Write a text as it is to standard output. Raises CannotRun where it takes no more."""
        try:
            self.stdout.write(text)
            self.stdout.flush()
        except BrokenPipeError:
            raise  # whoever read it has gone, and that is no fault
        except OSError as error:
            with suppress(OSError, ValueError):
                # what is left over would be tried once more, and fail, when Python ends
                os.dup2(os.open(os.devnull, os.O_WRONLY), self.stdout.fileno())
            raise CannotRun(f"not all could be written: {reason_of(error)}") from None

    def letters(self, *, ascii_only: bool) -> Callable[[str], str]:
        """How a cleaned text is written here: as it is, or in ASCII."""
        return to_ascii if ascii_only or not self.facts.unicode else as_written

    def show(self, lines: Iterable[Line], *, ascii_only: bool) -> None:
        """Print lines, in colour where the output takes it."""
        facts = self.facts
        plain = ascii_only or not facts.unicode
        shown = in_ascii(lines) if plain else list(lines)
        if not facts.colour:
            self.put("".join(f"{line.plain.rstrip()}\n" for line in shown))
            return
        colours = colours_of(self.environ)
        self.put("".join(f"{line.ansi(colours)}\n" for line in shown))

    def warn(self, sentence: str) -> None:
        """Print one sentence to standard error."""
        # a sentence may name an argument, a file or the system's reason, each with anything in it
        with suppress(OSError):  # with nowhere left to say it, the exit code still tells
            self.stderr.write(f"loomslate: {to_ascii_lines(_cleaned_lines(sentence))}\n")

    def progress(self, done: int, total: int) -> None:
        """Say on a terminal how far long work has come; wiped away by ``progress_ends``."""
        if self.stderr.isatty():
            self.stderr.write(f"\rreading the logs: {done:,} of {total:,} ")
            self.stderr.flush()

    def progress_ends(self) -> None:
        """Wipe the line of progress away."""
        if self.stderr.isatty():
            self.stderr.write(f"\r{' ' * 60}\r")
            self.stderr.flush()

    def document(self, value: object) -> None:
        """Print one JSON document and nothing else."""
        import json

        self.put(json.dumps(value, ensure_ascii=True, allow_nan=False, indent=1) + "\n")


def _cleaned_lines(text: str) -> str:
    """A text of several lines with nothing in it that a terminal could obey."""
    return "\n".join(clean(line) for line in text.split("\n"))


def to_ascii_lines(text: str) -> str:
    """A text of several lines in ASCII, carets under the letters that they were under."""
    rows = text.split("\n")
    pairs = zip(rows, ["", *rows], strict=False)
    return "\n".join(to_ascii(caret_moved(row, above)) for row, above in pairs)


def own_shell() -> Shell:
    """The shell of this process; what was closed before the start takes everything silently."""
    return Shell(
        stdin=sys.stdin,
        stdout=sys.stdout or _nowhere(),
        stderr=sys.stderr or _nowhere(),
        environ=os.environ,
        clock=lambda: datetime.now(UTC),
    )


def _nowhere() -> TextIO:
    return open(os.devnull, "w", encoding="utf-8")
