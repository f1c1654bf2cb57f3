"""``repeats``: faults that come again, what was done, how often, and which looms stand out."""

from __future__ import annotations

import re
from argparse import ArgumentParser, Namespace
from datetime import timedelta

from board.commands import options as shared
from board.commands.archive import add_archive, asks_archive
from board.commands.find import between, loom_named, part_named
from board.reckon.chains import Window
from board.reckon.repeat_report import Asked, repeat_report
from board.shell import FINE, CannotRun, Shell
from board.show.repeats_json import repeats_document
from board.show.repeats_screen import repeats_lines
from board.show.text import clean

SUMMARY = "repeat faults: chains, what was done, rates, trend, looms above the fleet"
EXAMPLE = "loomslate repeats --part head --folder logs_example --at 2026-11-25T06:00"

_PIECE = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(h|days?|d)\s*", re.IGNORECASE)


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    shared.add_form(parser)
    parser.add_argument(
        "--window",
        metavar="SPAN",
        help='how soon it is a repeat: "200 h", "14 days" or both; else the register\'s',
    )
    parser.add_argument("--from", dest="since", metavar="TIME", help="from this time or date on")
    parser.add_argument("--to", dest="until", metavar="TIME", help="before it; a date is included")
    parser.add_argument("--part", metavar="PART", help="this part only, by any of its names")
    parser.add_argument("--loom", metavar="LOOM", help="this loom only")
    parser.add_argument(
        "--most", type=int, default=5, metavar="N", help="chains told in full; else 5"
    )
    add_archive(parser)


def run(options: Namespace, shell: Shell) -> int:
    """Print the repeats."""
    if asks_archive(options):
        from board.commands import archived

        return archived.repeats(options, shell)
    asked = shared.asked(options, shell)
    mill = asked.mill
    since, until = between(options.since, options.until, mill)
    question = Asked(
        window=window_named(options.window),
        since=since,
        until=until,
        part=part_named(options.part, mill),
        loom=loom_named(options.loom, mill),
    )
    report = repeat_report(asked.loaded.snapshot, question)
    if options.json:
        shell.document(repeats_document(report, mill.zone))
        return FINE
    cells = shared.cells(options, shell)
    lines = repeats_lines(report, cells, mill.zone, max(options.most, 0))
    shell.show(lines, ascii_only=options.ascii)
    return FINE


def window_named(written: str | None) -> Window | None:
    """The window that an option names: hours, days or both. Raises CannotRun."""
    if written is None:
        return None
    hours: float | None = None
    days: timedelta | None = None
    for piece in re.split(r",|\bor\b", written):
        match = _PIECE.fullmatch(piece)
        amount = float(match[1]) if match else 0.0
        if match is None or not 0 < amount <= 100_000:
            raise CannotRun(f'--window takes a span like "200 h, 14 days", not {clean(written)}')
        if match[2].casefold() == "h":
            hours = amount
        else:
            days = timedelta(days=amount)
    return Window(hours=hours, days=days)
