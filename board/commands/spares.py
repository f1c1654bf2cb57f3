"""``spares``: what will be wanted, whether the stock lasts, and when to order.

``--json`` prints ``{"as_of", "spares": [...], "no_stock_given": [...]}``. A record: ``part``,
``stock``, ``lead_time_days``, ``horizon_days``, ``level``, ``risk``, ``in_service``
(``by_forecast``, ``by_age``, ``at_least``, ``left_out``, ``emptied``, ``not_told``), ``replaced``,
``replaced_of_known_age``, ``use_h``, ``adjusted``, ``basis`` (words), ``order_at_least`` (what the
stock is short of to suffice over the horizon, or the lead time where that is longer, with 95 %;
null where that is not known), ``over_lead`` and ``over_horizon`` (``days``, ``mean``, ``low``,
``high``, ``runs_out``, ``stock_for_95``, ``more_for_95``, ``reason``; numbers null where ``reason``
tells why), and ``order``: ``due`` (true, false or null), ``by`` (time
or null), ``reason``.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from datetime import timedelta

from board.commands import options as shared
from board.commands.wear import part_named
from board.reckon.spares_record import HORIZON, spares_on_record
from board.shell import FINE, CannotRun, Shell
from board.show.spares_screen import spares_document, spares_lines

SUMMARY = "spare parts: demand, stock, and the date to order by"
EXAMPLE = "loomslate spares logs_example --at 2026-11-25T06:00"

_LONGEST = 366


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    shared.add_form(parser)
    parser.add_argument("--part", metavar="PART", help="this part only, by any of its names")
    parser.add_argument(
        "--horizon",
        metavar="DAYS",
        type=float,
        default=HORIZON / timedelta(days=1),
        help="how far to look ahead; else 30 days",
    )


def run(options: Namespace, shell: Shell) -> int:
    """Print the spares."""
    if not 1 <= options.horizon <= _LONGEST:
        raise CannotRun(f"--horizon takes 1 to {_LONGEST} days")
    asked = shared.asked(options, shell)
    part = part_named(options.part, asked)
    cells = shared.cells(options, shell)
    summary = shared.summary_of(asked, shell)
    found = spares_on_record(summary, part, timedelta(days=options.horizon))
    if options.json:
        shell.document(spares_document(summary, found))
    else:
        shell.show(spares_lines(summary, found, cells), ascii_only=options.ascii)
    return FINE
