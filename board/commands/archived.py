"""Questions put to an archive of many mills, each an option of the command that asks one folder.

Which mills gave no answer is told on standard error, on the screen and in the document.
"""

from __future__ import annotations

from argparse import Namespace
from contextlib import AbstractContextManager
from typing import TypeVar

from board.archive.asking import Archive, archive_of, ask, stop_if_none, stop_if_unknown
from board.archive.spreading import Lost, Outcome, Spread, spread
from board.commands import options as shared
from board.shell import FINE, FOUND_WANTING, CannotRun, Shell

T = TypeVar("T")

_MOST_IN_TERMINAL = 200


def archive_asked(options: Namespace) -> Archive:
    """The archive that the options name. Raises CannotRun."""
    if options.folder is not None or getattr(options, "place", None) is not None:
        raise CannotRun("--archive asks all mills of the archive: name no log folder beside it")
    if options.index is not None:
        raise CannotRun("--archive has an index for each mill: name none beside it")
    return archive_of(options.archive, options.at)


def workers(options: Namespace, archive: Archive, shell: Shell) -> AbstractContextManager[Spread]:
    """Where the work is done."""
    return spread(options.workers, options.scheduler, len(archive.mills), shell.environ)


def tell(missing: Lost, archive: Archive, shell: Shell) -> None:
    """Say which mills gave no answer. Raises CannotRun where none did."""
    stop_if_none(archive, missing)
    for name, reason in missing:
        shell.warn(f"{name} is missing from the answer: {reason}")


def _answered(outcome: Outcome[T], missing: Lost, archive: Archive, shell: Shell) -> T:
    """What the mills answered, once it is told which did not. Raises CannotRun."""
    tell(missing, archive, shell)
    if outcome.answer is None:
        raise CannotRun("no mill was asked")
    return outcome.answer


def find(options: Namespace, shell: Shell, in_words: str) -> int:
    """Print what was found in the mills of an archive."""
    from board.archive.finding import find_in, merge
    from board.show.archive_find import (
        archive_found_document,
        archive_found_lines,
        archive_nothing_found,
        archive_piped_lines,
    )

    archive = archive_asked(options)
    to_terminal = not (options.json or (shell.piped and options.width is None))
    most = options.most
    if most is None:
        most = _MOST_IN_TERMINAL if to_terminal else 0
    names = ("words", "loom", "part", "side", "kind", "by", "style", "since", "until", "around")
    question = tuple((name, getattr(options, name)) for name in (*names, "at"))
    question = (*((name, _plain(value)) for name, value in question), ("most", most))
    with workers(options, archive, shell) as where:
        outcome = ask(where, archive, find_in, question, merge)
    missing = (*(outcome.answer[4] if outcome.answer is not None else ()), *outcome.lost)
    found = _answered(outcome, missing, archive, shell)
    stop_if_unknown([reason for *_, reason in found[1]])
    if options.json:
        shell.document(archive_found_document(found, missing, archive.out))
    elif not found[0]:
        shell.warn(archive_nothing_found(found, in_words))
    elif to_terminal:
        lines = archive_found_lines(found, missing, shared.cells(options, shell), archive.now)
        shell.show(lines, ascii_only=options.ascii)
    else:
        shell.show(archive_piped_lines(found), ascii_only=options.ascii)
    return FINE if found[0] else FOUND_WANTING


def _plain(value: object) -> object:
    return tuple(value) if isinstance(value, list) else value


def repeats(options: Namespace, shell: Shell) -> int:
    """Print the repeat faults of the mills of an archive."""
    from board.archive.repeating import merge, repeats_in
    from board.show.archive_repeats import archive_repeats_document, archive_repeats_lines

    archive = archive_asked(options)
    names = ("window", "since", "until", "part", "loom")
    question = tuple((name, getattr(options, name)) for name in names)
    with workers(options, archive, shell) as where:
        outcome = ask(where, archive, repeats_in, question, merge)
    missing = (*(outcome.answer[2] if outcome.answer is not None else ()), *outcome.lost)
    found = _answered(outcome, missing, archive, shell)
    stop_if_unknown([reason for *_, reason in found[1]])
    if options.json:
        shell.document(archive_repeats_document(found, missing, archive))
        return FINE
    cells = shared.cells(options, shell)
    most = max(options.most, 0)
    lines = archive_repeats_lines(found, missing, cells, archive.now, most)
    shell.show(lines, ascii_only=options.ascii)
    return FINE


def lives(options: Namespace, shell: Shell) -> int:
    """Print the part lives of the mills of an archive, pooled."""
    from board.archive.living import pooled_lives
    from board.reckon.life_study import By
    from board.show.archive_tables import archive_lives_document, archive_lives_lines

    archive = archive_asked(options)
    cells = shared.cells(options, shell)
    factors = [By(value) for value in options.by or ()]
    with workers(options, archive, shell) as where:
        found = pooled_lives(where, archive, options.part, factors, options.unit)
    tell(found.missing, archive, shell)
    if options.json:
        shell.document(archive_lives_document(found, archive))
    else:
        shell.show(archive_lives_lines(found, cells), ascii_only=options.ascii)
    return FINE


def audit(options: Namespace, shell: Shell) -> int:
    """Print how the past forecasts of the mills of an archive turned out, pooled."""
    from board.archive.auditing import pooled_audit
    from board.show.archive_tables import archive_audit_document, archive_audit_lines

    archive = archive_asked(options)
    cells = shared.cells(options, shell)
    with workers(options, archive, shell) as where:
        found = pooled_audit(where, archive, options.part)
    tell(found.missing, archive, shell)
    if options.json:
        shell.document(archive_audit_document(found, archive))
    else:
        shell.show(archive_audit_lines(found, cells), ascii_only=options.ascii)
    return FINE
