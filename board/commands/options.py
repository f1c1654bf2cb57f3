"""Options that several commands share, and what they mean."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from board.loading import Loaded, folder_of, load, mill_or_stop, moment_asked
from board.mill import Mill
from board.shell import CannotRun, Shell
from grammar.frozen import dataclass

if TYPE_CHECKING:
    from board.reckon.summary import Summary


def add_folder(parser: ArgumentParser, *, positional: bool = False) -> None:
    """The log folder, and the moment that is looked at."""
    if positional:
        parser.add_argument("place", nargs="?", metavar="FOLDER", help="the log folder")
    parser.add_argument(
        "--folder", metavar="DIR", help="the log folder; else LOOMSLATE_LOGS, else here"
    )
    parser.add_argument("--at", metavar="TIME", help="look as of this time, like 2026-11-25T06:00")
    add_index(parser)


def add_index(parser: ArgumentParser) -> None:
    """Where what was read is kept for the next time."""
    parser.add_argument(
        "--index",
        metavar="FILE",
        help="keep what was read there for the next time; none: nowhere; else in the cache folder",
    )


def add_form(parser: ArgumentParser) -> None:
    """How the answer is written."""
    parser.add_argument("--json", action="store_true", help="one JSON document")
    parser.add_argument("--ascii", action="store_true", help="plain letters only")
    parser.add_argument("--width", type=int, metavar="N", help="columns; else the terminal's")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A folder that was read for a command, and the moment it was read for."""

    loaded: Loaded
    at: datetime
    is_now: bool  # no other moment was named

    @property
    def mill(self) -> Mill:
        """The register."""
        return self.loaded.mill


def folder(options: Namespace, shell: Shell) -> Path:
    """The log folder that the options name."""
    return folder_of(options.folder or getattr(options, "place", None), shell.environ)


def asked(options: Namespace, shell: Shell) -> Asked:
    """Read the folder that the options name. Raises CannotRun."""
    where = folder(options, shell)
    mill = mill_or_stop(where)
    at = moment_asked(options.at, mill)
    loaded = load(where, mill, at, shell, options.index)
    return Asked(loaded=loaded, at=at or loaded.snapshot.fleet.as_of, is_now=at is None)


def summary_of(asked: Asked, shell: Shell, section: str | None = None) -> Summary:
    """Everything that is shown of it. Raises CannotRun for an unknown section."""
    from board.reckon.summary import summarise
    from board.remembered import Studies, held_so_far
    from board.vanished import Vanished, file_of

    names = {s.name.casefold(): s.name for s in asked.mill.sections}
    if section is not None and section.casefold() not in names:
        known = ", ".join(names.values())
        raise CannotRun(f"there is no section {section}; the register has {known}")
    chosen = names[section.casefold()] if section is not None else None
    summary = summarise(
        asked.loaded.snapshot,
        section=chosen,
        turned_out=lambda past, mill: held_so_far(past, mill, shell.environ),
        learn=Studies(shell.environ),
    )
    if not asked.is_now:
        return summary
    vanished = Vanished(file_of(asked.loaded.folder, shell.environ))
    return replace(summary, gone=vanished.of(asked.loaded.snapshot.fleet, asked.at))


def cells(options: Namespace, shell: Shell, least: int = 40) -> int:
    """How many columns to write. Raises CannotRun for fewer than can be read."""
    asked_for: int | None = options.width
    if asked_for is not None and asked_for < least:
        raise CannotRun(f"--width takes {least} columns or more")
    return asked_for or max(shell.facts.width, least)
