"""``round``: what to measure in the next shift, for paper.

``--json`` prints ``{"as_of", "shift", "day", "starts", "ends", "until", "lines": [...],
"left_off": [...], "also_due": [...], "past_limit": [...], "laid_up": [...], "never_told": [...],
"may_be_isolation": [...]}``. ``lines`` stand in walking order, ``left_off`` the most urgent first.
A record of ``lines`` and ``left_off``: ``section``, ``loom``,
``part``, ``side``, ``number``, ``quantity``, ``unit``, ``why`` (``check overdue``, ``likely to pass
its limit``, ``check comes due``, ``near its limit, no forecast``), ``last`` (null: never measured
since it was fitted), ``bound``, ``read_at``, ``stands`` and ``stands_bound`` (what a gauge
left standing since, else null), ``since``, ``check_every``, ``overdue_by`` (in the
interval's unit, below 0 not overdue; null with ``overdue_reason``), ``limit_low``, ``limit_high``,
``p`` (of passing the limit before ``until``; null with ``p_reason``), ``isolated`` and
``locks_by``, ``caution``. ``also_due``: ``place``, ``number``, ``text``, ``by``, ``for``,
``opened``, ``due`` (words), ``pressing`` (``overdue``, ``due in the coming shift``, ``may fall due
in the coming shift``), ``isolated``. ``past_limit``: ``loom``, ``part``, ``side``, ``number``,
``quantity``. ``never_told``: ``part``, ``side``, ``looms``. ``may_be_isolation``: ``path``,
``line``, ``text``.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from board.commands import options as shared
from board.commands.printing import put_pages
from board.commands.saving import save_whole
from board.reckon.rounds import MOST_LINES, round_for, shift_asked
from board.shell import FINE, CannotRun, Shell
from board.show.round_html import round_html
from board.show.round_json import round_document
from board.show.round_sheet import NARROWEST, round_pages
from board.show.text import clean

SUMMARY = "what to measure next shift, with boxes to fill in, black and white"
EXAMPLE = "loomslate round logs_example --shift early --at 2026-11-25T06:00"

_PAPER = 80  # columns; a sheet is for paper, whatever the terminal


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    parser.add_argument("--shift", metavar="NAME", help="its next start; else the coming shift")
    parser.add_argument(
        "--most", type=int, default=MOST_LINES, metavar="N", help=f"lines; else {MOST_LINES}"
    )
    parser.add_argument("--html", metavar="FILE", help="write it as one HTML file; - prints it")
    parser.add_argument("--json", action="store_true", help="one JSON document")
    parser.add_argument("--ascii", action="store_true", help="plain letters only")
    parser.add_argument("--width", type=int, metavar="N", help=f"columns; else {_PAPER}")


def run(options: Namespace, shell: Shell) -> int:
    """Print the round."""
    if options.width is not None and options.width < NARROWEST:
        raise CannotRun(f"--width takes {NARROWEST} columns or more")
    if options.json and options.html is not None:
        raise CannotRun("choose one of --html and --json")
    if options.most < 1:
        raise CannotRun("--most takes 1 line or more")
    asked = shared.asked(options, shell)
    name = shift_named(options.shift, asked)
    summary = shared.summary_of(asked, shell)
    found = round_for(summary, shift_asked(summary, name), options.most)
    if options.json:
        shell.document(round_document(summary, found))
    elif options.html == "-":
        shell.put(round_html(summary, found))
    elif options.html is not None:
        save_whole(Path(options.html), round_html(summary, found))
        shell.say(f"round written to {clean(options.html)}")
    else:
        letters = shell.letters(ascii_only=options.ascii)
        pages = round_pages(summary, found, options.width or _PAPER, letters)
        put_pages(shell, pages, "round")
    return FINE


def shift_named(word: str | None, asked: shared.Asked) -> str | None:
    """The register's name of a shift that is meant. Raises CannotRun for an unknown one."""
    if word is None:
        return None
    from grammar.folding import fold_word

    vocabulary = asked.mill.vocabulary
    shift = vocabulary.shift_by_word.get(fold_word(word))
    if shift is None:
        known = ", ".join(s.name for s in asked.mill.shifts)
        raise CannotRun(f"there is no shift {word}; the register has {known}")
    return shift.name
