"""``loom``: everything on record about one loom."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.shell import FINE, CannotRun, Shell
from board.show.as_json import board_document
from board.show.loom_screen import loom_lines
from board.show.trends import series_records
from grammar.nearest import did_you_mean
from grammar.sense import looms_there

SUMMARY = "everything on record about one loom"
EXAMPLE = "loomslate loom A07 --folder logs_example"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("loom", metavar="LOOM", help="the loom, in any case: a7 is A07")
    shared.add_folder(parser)
    shared.add_form(parser)
    parser.add_argument("--most", type=int, default=20, metavar="N", help="lines of history")
    parser.add_argument(
        "--charts", type=int, default=3, metavar="N", help="parts drawn, the most urgent; else 3"
    )


def run(options: Namespace, shell: Shell) -> int:
    """Print the loom."""
    asked = shared.asked(options, shell)
    name = asked.mill.vocabulary.loom(options.loom)
    if name is None:
        vocabulary = asked.mill.vocabulary
        hint = did_you_mean(options.loom, vocabulary.looms) or looms_there(vocabulary)
        raise CannotRun(f"no loom {options.loom} stands in the register; {hint}")
    summary = shared.summary_of(asked, shell)
    if options.json:
        whole = board_document(summary, summary.as_of)
        record = next(loom for loom in whole["looms"] if loom["loom"] == name)
        series = series_records(summary, summary.loom(name))
        shell.document({"as_of": whole["as_of"], **record, "series": series})
        return FINE
    cells = shared.cells(options, shell)
    lines = loom_lines(summary, name, cells, most=options.most, charts=options.charts)
    shell.show(lines, ascii_only=options.ascii)
    return FINE
