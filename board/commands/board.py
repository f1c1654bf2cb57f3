"""``board``: prints the board once."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from datetime import datetime

from board.commands import options as shared
from board.loading import moment_of
from board.reckon.summary import Summary, default_since, since_of
from board.shell import FINE, CannotRun, Shell
from board.show.as_json import board_document
from board.show.loom_screen import loom_table
from board.show.screens import View, board_lines

SUMMARY = "print the board once"
THEN = "THEN"  # the words for a moment that was named by its time
EXAMPLE = "loomslate board logs_example --at 2026-11-25T06:00"
_PROMPT = 1  # rows that the shell's own prompt takes, so that the head stays on the screen


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    shared.add_form(parser)
    parser.add_argument(
        "--height", type=int, metavar="N", help="rows; else the terminal's but the prompt's own"
    )
    parser.add_argument("--since", metavar="TIME or WHO", help="show as new what came after")
    parser.add_argument("--section", metavar="NAME", help="this row of the shed only")
    parser.add_argument("--all", action="store_true", help="every row, and every loom")


def run(options: Namespace, shell: Shell) -> int:
    """Print the board."""
    asked = shared.asked(options, shell)
    summary = shared.summary_of(asked, shell, options.section)
    since, words = since_asked(options.since, summary)
    if options.json:
        shell.document(board_document(summary, since))
        return FINE
    height = options.height
    if height is None and not shell.piped:
        height = max(shell.facts.height - _PROMPT, 1)
    if options.all:
        height = None
    told = None if options.since is None else words.removeprefix(THEN)
    view = View(width=shared.cells(options, shell), height=height, since=since, since_words=told)
    lines = board_lines(summary, view)
    if options.all:
        lines += loom_table(summary, view.width)
    shell.show(lines, ascii_only=options.ascii)
    return FINE


def since_asked(written: str | None, summary: Summary) -> tuple[datetime, str]:
    """The moment that ``--since`` names, by time or by who took over, and its words."""
    if written is None:
        return default_since(summary), ""
    if written[:4].isdigit():
        return moment_of(written, summary.snapshot.mill, "--since"), THEN
    taken = since_of(summary, written)
    if taken is None:
        raise CannotRun(f"{written} has not taken the shed over on record; give a time instead")
    return taken, f"{written.upper()} TOOK OVER"
