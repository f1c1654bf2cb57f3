"""``watch``: the live board."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.shell import Shell

SUMMARY = "the live board: redrawn when a log is saved"
EXAMPLE = "loomslate watch logs_example"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    parser.add_argument("--ascii", action="store_true", help="plain letters only")
    parser.add_argument("--wall", action="store_true", help="turn the pages by itself")
    parser.add_argument(
        "--poll", action="store_true", help="look at the folder again and again: network drives"
    )
    parser.set_defaults(width=None)


def run(options: Namespace, shell: Shell) -> int:
    """Show the live board."""
    from board.live import watch  # watchdog and the terminal are loaded for this command alone

    return watch(options, shell)
