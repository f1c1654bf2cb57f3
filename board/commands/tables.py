"""``tables``: the record as Parquet files for other tools."""

from __future__ import annotations

import os
from argparse import ArgumentParser, Namespace
from contextlib import suppress
from pathlib import Path

from board.commands import options as shared
from board.shell import FINE, CannotRun, Shell
from board.show.text import clean
from board.tables import parquet_files, table_rows

SUMMARY = "write entries, spells, readings, lives, faults and actions as Parquet"
EXAMPLE = "loomslate tables out --folder logs_example --at 2026-11-25T06:00"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("out", metavar="OUT", help="the folder to write to; made if it is missing")
    shared.add_folder(parser)
    parser.add_argument("--json", action="store_true", help="one JSON document")


def run(options: Namespace, shell: Shell) -> int:
    """Write the tables and tell how many rows each has."""
    out = Path(options.out)
    asked = shared.asked(options, shell)
    rows = table_rows(asked.loaded.snapshot)
    try:
        files = parquet_files(rows, asked.loaded.snapshot)
    except ImportError as error:
        raise CannotRun(f"no tables: {error.name} cannot be loaded on this machine") from None
    save_all(out, {f"{name}.parquet": data for name, data in files.items()})
    counts = {name: len(of) for name, of in rows.items()}
    if options.json:
        document = {"folder": str(out), "rows": counts}
        shell.document(document)
        return FINE
    for name, count in counts.items():
        shell.say(f"{clean(str(out / name))}.parquet  {count} rows")
    shell.say(
        "times are UTC, text is as written: where it begins with = + - or @, give it to a"
        " spreadsheet as text"
    )
    return FINE


def save_all(folder: Path, files: dict[str, bytes]) -> None:
    """Write files by way of temporary ones; none is replaced before all are written.

    Raises CannotRun with one sentence.
    """
    beside: dict[Path, Path] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            path = folder / name
            if path.is_dir():
                raise IsADirectoryError(None, f"{name} is a folder")
            temporary = folder / f".{name}.{os.getpid()}.tmp"
            beside[temporary] = path
            with temporary.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        for temporary, path in beside.items():
            temporary.replace(path)
    except (OSError, ValueError) as error:
        for temporary in beside:
            with suppress(OSError, ValueError):
                temporary.unlink(missing_ok=True)
        reason = getattr(error, "strerror", None) or str(error)
        sentence = f"cannot write tables to {clean(str(folder))}: {clean(reason).lower()}"
        raise CannotRun(sentence) from None
