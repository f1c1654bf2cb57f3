"""``check``: the complaints about a folder or about single files, each with its caret."""

from __future__ import annotations

import os
from argparse import ArgumentParser, Namespace
from pathlib import Path

from board.commands import options as shared
from board.loading import folder_of, mill_or_stop, moment_asked, reader_for
from board.record.files import LogName, Skipped, read_file
from board.shell import FINE, FOUND_WANTING, CannotRun, Shell
from board.show.moments import counted
from board.show.problems import complaint_record, drawn_all, folded_all
from board.snapshot import FileReading, Snapshot, snapshot

SUMMARY = "explain every line that was not understood"
EXAMPLE = "loomslate check logs_example"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("places", nargs="*", metavar="FOLDER or FILE", help="what to check")
    shared.add_folder(parser)
    shared.add_form(parser)


def run(options: Namespace, shell: Shell) -> int:
    """Print the complaints."""
    whole = _read(options, shell)
    tally = whole.tally
    if options.json:
        shell.document(
            {
                "files": tally.files,
                "lines": tally.lines,
                "entries": tally.entries,
                "partly_refused": len(whole.partly_refused),
                "complaints": [complaint_record(c) for c in whole.complaints],
                "not_read": list(whole.notices),
            }
        )
    else:
        if whole.complaints:
            draw = drawn_all if shell.piped and options.width is None else folded_all
            text = draw(whole.complaints, shared.cells(options, shell))
            shell.say(text + "\n", ascii_only=options.ascii or None)
        for notice in whole.notices:
            shell.say(f"not read: {notice}")
        entries = f"{tally.entries} {'entry' if tally.entries == 1 else 'entries'}"
        partly = len(whole.partly_refused)
        read = f"{entries} read, {partly} of them refused in part or whole"
        shell.say(
            f"{counted(tally.files, 'file')}, {counted(tally.lines, 'line')}, "
            f"{read if partly else f'{entries} understood'}; "
            f"{counted(tally.refused, 'line')} refused, "
            f"{tally.flagged} flagged"
        )
    return FOUND_WANTING if tally.refused else FINE


def _read(options: Namespace, shell: Shell) -> Snapshot:
    places = [Path(place) for place in options.places]
    if not places or (len(places) == 1 and places[0].is_dir()):
        options.place = str(places[0]) if places else None
        return shared.asked(options, shell).loaded.snapshot
    for place in places:
        if not os.path.lexists(place):
            raise CannotRun(f"there is no file or folder {place}")
    folder = folder_of(options.folder, shell.environ)
    if not options.folder and not (folder / "shed.toml").is_file():
        folder = _folder_above(places[0])
    mill = mill_or_stop(folder)
    reader = reader_for(mill.vocabulary, shell.environ)
    readings = []
    for place in places:
        if place.is_dir():
            raise CannotRun(f"{place} is a folder; check one folder, or files")
        file = read_file(LogName(path=str(place), where=str(place)), shell.clock())
        if isinstance(file, Skipped):
            raise CannotRun(file.sentence)
        readings.append(FileReading(path=file.path, reading=reader.read(file.data, file.last_line)))
    at = moment_asked(options.at, mill) or shell.clock()
    return snapshot(readings, mill, at)


def _folder_above(file: Path) -> Path:
    """The nearest folder above a file that holds a register."""
    for folder in file.resolve().parents:
        if (folder / "shed.toml").is_file():
            return folder
    return file.parent
