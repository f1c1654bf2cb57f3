"""``loom``: everything on record about one loom."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.shell import FINE, CannotRun, Shell
from board.show.as_json import board_document
from board.show.loom_screen import loom_lines
from grammar.nearest import nearest

SUMMARY = "everything on record about one loom"
EXAMPLE = "loomslate loom A07 --folder logs_example"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("loom", metavar="LOOM", help="the loom, in any case: a7 is A07")
    shared.add_folder(parser)
    shared.add_form(parser)
    parser.add_argument("--most", type=int, default=20, metavar="N", help="lines of history")


def run(options: Namespace, shell: Shell) -> int:
    """Print the loom."""
    asked = shared.asked(options, shell)
    name = asked.mill.vocabulary.loom(options.loom)
    if name is None:
        near = nearest(options.loom, asked.mill.looms)
        hint = f"; did you mean {near}?" if near else ""
        raise CannotRun(f"no loom {options.loom} stands in the register{hint}")
    summary = shared.summary_of(asked, shell)
    if options.json:
        whole = board_document(summary, summary.as_of)
        record = next(loom for loom in whole["looms"] if loom["loom"] == name)
        shell.document({"as_of": whole["as_of"], **record})
        return FINE
    lines = loom_lines(summary, name, shared.cells(options, shell), most=options.most)
    shell.show(lines, ascii_only=options.ascii)
    return FINE
