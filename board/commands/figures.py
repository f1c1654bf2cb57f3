"""``figures``: recorded availability, restoration, failures, repeats, checks and backlog.

``--json`` prints ``{"as_of", "from", "to", "level", "figures": [...], "lines": {...}}``. Every
record of ``figures``: ``figure``, ``of`` (``shed`` or a section), ``value``, ``unit``, ``low``,
``high`` (null where not set), ``reason`` (why ``value`` or its limits are null, else null) and
``counts``, an object with what it rests on. ``figure`` is one of ``availability``,
``restoration_median``, ``restoration_mean``, ``pairs_complete``, ``between_failures``,
``repeat_ratio``, ``checks_in_time``, ``actions_open``, ``action_age``, ``days_to_done``.
Availability and the other shares are from 0 to 1. Where no failure is on record,
``between_failures`` has ``value`` null and ``low`` the one-sided bound. ``lines``: ``entries``,
``not_understood``, ``of_no_shift``, ``partly_refused``.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.loading import mill_or_stop, moment_asked, moment_of
from board.reckon.figures_record import figures_on_record
from board.reckon.refusal import Refusal
from board.shell import FINE, CannotRun, Shell
from board.show.figures_json import figures_document
from board.show.figures_screen import figures_lines

SUMMARY = "availability, restoration, repeats, checks and backlog over a time"
EXAMPLE = "loomslate figures logs_example --from 2026-11-01 --to 2026-11-25T06:00"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    shared.add_form(parser)
    parser.add_argument(
        "--from", dest="start", metavar="TIME", help="count from this time; else the first entry"
    )
    parser.add_argument(
        "--to",
        dest="end",
        metavar="TIME",
        help="count to this time, as the record stood then; else to --at, else to now; with --at"
        " it may not lie after that; a bare date is the midnight it begins with",
    )


def run(options: Namespace, shell: Shell) -> int:
    """Print the figures."""
    if options.end is not None:
        # asked of the register here, so that a wrong time is told as --to's
        mill = mill_or_stop(shared.folder(options, shell))
        end, now = moment_of(options.end, mill, "--to"), moment_asked(options.at, mill)
        if now is not None and end > now:
            raise CannotRun("--to lies after --at: what comes after that time is not known at it")
        options.at = options.end
    asked = shared.asked(options, shell)
    cells = shared.cells(options, shell)
    start = moment_of(options.start, asked.mill, "--from") if options.start else None
    if start is not None and start >= asked.at:
        raise CannotRun("--from lies after the time that figures are counted to")
    summary = shared.summary_of(asked, shell)
    figures = figures_on_record(summary, start)
    if isinstance(figures, Refusal):
        raise CannotRun(f"no figures: {figures.reason}")
    if options.json:
        shell.document(figures_document(summary, figures))
    else:
        shell.show(figures_lines(summary, figures, cells), ascii_only=options.ascii)
    return FINE
