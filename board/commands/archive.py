"""``archive``: the logs of many mills kept together, to be asked across them."""

from __future__ import annotations

import json
from argparse import ArgumentParser, Namespace
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from board.commands import options as shared
from board.shell import COULD_NOT, FINE, FOUND_WANTING, CannotRun, Shell
from board.show.text import clean

if TYPE_CHECKING:
    from board.archive.building import Built, Task
    from board.archive.catalogue import Catalogue

SUMMARY = "keep the logs of many mills together, and bring them up to date"
EXAMPLE = "loomslate archive group --mill quillbank=logs_example --at 2026-11-25T06:00"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("out", metavar="OUT", help="the archive's folder; made if it is missing")
    parser.add_argument(
        "--mill",
        action="append",
        default=[],
        metavar="NAME=FOLDER",
        help="a mill and its log folder, given once for each; else those in the archive",
    )
    parser.add_argument("--at", metavar="TIME", help="as of this time, like 2026-11-25T06:00")
    add_work(parser)
    shared.add_form(parser)


def add_work(parser: ArgumentParser) -> None:
    """Where the work on an archive is done."""
    parser.add_argument(
        "--workers", type=int, metavar="N", help="processes at once; else one a core; 1: in this"
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="give the work to a cluster, like tcp://10.0.0.5:8786",
    )


def add_archive(parser: ArgumentParser) -> None:
    """The options by which a question is put to an archive."""
    parser.add_argument(
        "--archive", metavar="OUT", help="ask all mills of this archive, not a log folder"
    )
    add_work(parser)


def asks_archive(options: Namespace) -> bool:
    """Whether an archive is asked. Raises CannotRun for options that are for an archive alone."""
    if options.archive is None and (options.workers is not None or options.scheduler is not None):
        raise CannotRun("--workers and --scheduler are for --archive")
    return options.archive is not None


def run(options: Namespace, shell: Shell) -> int:
    """Build the archive or bring it up to date, and tell what it holds."""
    from board.record.turns import NoTurn, turn

    out = Path(options.out)
    shown = clean(options.out)
    try:
        out.mkdir(parents=True, exist_ok=True)
        with turn(out, patience=_PATIENCE_S):
            made = _built(out, options, shell)
    except NoTurn as none:
        raise CannotRun(f"the archive {shown} was left as it is: {none.sentence}") from None
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise CannotRun(f"cannot write the archive {shown}: {reason}") from None
    return _told(made, options, shell)


_PATIENCE_S = 0.2  # a build takes long: who finds another at it does not wait for its end


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """What became of a build: the catalogue, mills not brought up to date, partitions written."""

    catalogue: Catalogue
    asked: int
    missing: tuple[tuple[str, str], ...]
    written: int


def _built(out: Path, options: Namespace, shell: Shell) -> _Made:
    from board.archive.building import bring_up_to_date, kept_of
    from board.archive.catalogue import write_catalogue
    from board.archive.partitions import publish
    from board.archive.spreading import carried_out, spread

    before, folders = _mills(out, options, shell)
    catalogue, written = before, 0
    for mill in before.mills:
        publish(out, mill)  # what a build that was killed had still to do
    now = shell.clock().isoformat()
    missing: list[tuple[str, str]] = []
    done = 0

    def take(built: tuple[Built, ...]) -> None:
        nonlocal catalogue, written, done
        done += len(built)
        shell.progress_ends()
        for name, text, reason, told in built:
            for sentence in told:
                shell.warn(f"{name}: {sentence}")
            if reason:
                missing.append((name, reason))
                continue
            mill, old = kept_of(text), before.mill(name)
            catalogue = catalogue.with_mill(mill)
            write_catalogue(out, catalogue)
            publish(out, mill)
            written += len(set(mill.partitions) - set(old.partitions if old else ()))
        shell.progress(done, len(folders))  # mills

    with spread(options.workers, options.scheduler, len(folders), shell.environ) as where:
        tasks: list[tuple[str, Task]] = []
        for name, folder in folders.items():
            old = before.mill(name)
            kept = json.dumps(asdict(old)) if old is not None else ""
            at = options.at or ""
            task = (str(out.absolute()), name, str(folder), at, now, kept, where.environ)
            tasks.append((name, task))
        outcome = carried_out(where, bring_up_to_date, tasks, _both, take)
    shell.progress_ends()
    return _Made(
        catalogue=catalogue,
        asked=len(folders),
        missing=tuple(sorted([*missing, *outcome.lost])),
        written=written,
    )


def _told(made: _Made, options: Namespace, shell: Shell) -> int:
    from board.show.archive_screen import archive_document, archive_lines

    out, mills = Path(options.out), made.catalogue.mills
    for name, reason in made.missing:
        shell.warn(f"{name} was not brought up to date: {reason}")
    if options.json:
        shell.document(archive_document(out, mills, made.missing, made.written))
    else:
        cells = shared.cells(options, shell)
        lines = archive_lines(out, mills, made.missing, made.written, cells)
        shell.show(lines, ascii_only=options.ascii)
    if len(made.missing) == made.asked:
        return COULD_NOT
    return FOUND_WANTING if made.missing else FINE


def _both(a: tuple[Built, ...], b: tuple[Built, ...]) -> tuple[Built, ...]:
    return a + b


def _mills(out: Path, options: Namespace, shell: Shell) -> tuple[Catalogue, dict[str, Path]]:
    """The archive as it was, and the mills to bring up to date. Raises CannotRun."""
    from board.archive.catalogue import Catalogue, NoCatalogue, read_catalogue
    from board.archive.mill_names import mills_named

    try:
        before = read_catalogue(out)
    except NoCatalogue as error:
        if not options.mill:
            raise CannotRun(
                f"{clean(error.sentence)}; name its mills: --mill NAME=FOLDER"
            ) from None
        if error.damaged:
            shell.warn(f"{error.sentence}; it is made anew from the mills that are named")
        before = Catalogue()
    named = mills_named(options.mill, (mill.name for mill in before.mills))
    kept = {mill.name: Path(mill.folder) for mill in before.mills}
    return before, named or kept
