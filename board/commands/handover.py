"""``handover``: the sheet that the outgoing lead tells from and both sign."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from board.commands import options as shared
from board.commands.board import since_asked
from board.commands.printing import put_pages
from board.commands.saving import save_whole
from board.reckon.handing_over import Sheet, sheet_of
from board.shell import FINE, CannotRun, Shell
from board.show.sheet import NARROWEST, text_pages
from board.show.sheet_html import html_page
from board.show.sheet_json import handover_document
from board.show.text import clean

SUMMARY = "print the handover sheet for paper, black and white"
EXAMPLE = "loomslate handover logs_example --at 2026-11-25T06:00 --html sheet.html"

_PAPER = 80  # columns; a sheet is for paper, whatever the terminal


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    parser.add_argument(
        "--since", metavar="TIME or WHO", help="what changed after this; else the last taking over"
    )
    parser.add_argument("--html", metavar="FILE", help="write it as one HTML file; - prints it")
    parser.add_argument("--json", action="store_true", help="one JSON document")
    parser.add_argument("--ascii", action="store_true", help="plain letters only")
    parser.add_argument("--width", type=int, metavar="N", help=f"columns; else {_PAPER}")


def run(options: Namespace, shell: Shell) -> int:
    """Print or write the sheet."""
    if options.json and options.html is not None:
        raise CannotRun("choose one of --html and --json")
    if options.width is not None and options.width < NARROWEST:
        raise CannotRun(f"--width takes {NARROWEST} columns or more")
    sheet = _sheet(options, shell)
    if options.json:
        shell.document(handover_document(sheet))
    elif options.html == "-":
        shell.put(html_page(sheet))
    elif options.html is not None:
        save_whole(Path(options.html), html_page(sheet))
        shell.say(f"handover sheet written to {clean(options.html)}")
    else:
        letters = shell.letters(ascii_only=options.ascii)
        put_pages(shell, text_pages(sheet, options.width or _PAPER, letters), "handover")
    return FINE


def _sheet(options: Namespace, shell: Shell) -> Sheet:
    summary = shared.summary_of(shared.asked(options, shell), shell)
    if options.since is None:
        return sheet_of(summary)
    since, words = since_asked(options.since, summary)
    return sheet_of(summary, since, words)
