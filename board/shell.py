"""The outer ring: streams, environment and clock of the running process, handed in once.

Everything inside takes what it needs as a value; only this module, the command line and the live
board touch the process.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TextIO

from board.show.lines import Line
from board.show.text import clean, to_ascii
from board.terminal import TerminalFacts, terminal_facts

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
        self.stdout.write((to_ascii_lines(text) if plain else text) + "\n")

    def show(self, lines: Iterable[Line], *, ascii_only: bool) -> None:
        """Print lines, in colour where the output takes it."""
        facts = self.facts
        plain = ascii_only or not facts.unicode
        shown = [line.ascii() if plain else line for line in lines]
        if not facts.colour:
            self.stdout.write("".join(f"{line.plain.rstrip()}\n" for line in shown))
            return
        from rich.console import Console

        console = Console(
            file=self.stdout,
            width=max(facts.width, 1) if not self.piped else 10_000,
            force_terminal=True,
            legacy_windows=False,
            soft_wrap=True,
            highlight=False,
            emoji=False,
            markup=False,
            _environ=dict(self.environ),
        )
        for line in shown:
            console.print(line.rich())

    def warn(self, sentence: str) -> None:
        """Print one sentence to standard error."""
        # a sentence may name an argument, a file or the system's reason, each with anything in it
        self.stderr.write(f"loomslate: {to_ascii_lines(_cleaned_lines(sentence))}\n")

    def document(self, value: object) -> None:
        """Print one JSON document and nothing else."""
        self.stdout.write(json.dumps(value, ensure_ascii=True, allow_nan=False, indent=1) + "\n")


def _cleaned_lines(text: str) -> str:
    """A text of several lines with nothing in it that a terminal could obey."""
    return "\n".join(clean(line) for line in text.split("\n"))


def to_ascii_lines(text: str) -> str:
    """A text of several lines in ASCII."""
    return "\n".join(to_ascii(line) for line in text.split("\n"))


def own_shell() -> Shell:
    """The shell of this process."""
    return Shell(
        stdin=sys.stdin,
        stdout=sys.stdout,
        stderr=sys.stderr,
        environ=os.environ,
        clock=lambda: datetime.now(UTC),
    )
