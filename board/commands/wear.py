"""``wear``: every measured part with its margin and forecast, or how past forecasts turned out."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.commands.archive import add_archive, asks_archive
from board.reckon.past_forecasts import audits
from board.remembered import remember
from board.shell import FINE, CannotRun, Shell
from board.show.wear_screen import audit_document, audit_lines, wear_document, wear_table

SUMMARY = "every measured part: margin, forecast, and how past forecasts held"
EXAMPLE = "loomslate wear --part tape --folder logs_example --at 2026-11-25T06:00"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    shared.add_folder(parser, positional=True)
    shared.add_form(parser)
    parser.add_argument("--part", metavar="PART", help="this part only, by any of its names")
    parser.add_argument("--section", metavar="NAME", help="this row of the shed only")
    parser.add_argument(
        "--audit", action="store_true", help="how the shed's own past forecasts turned out"
    )
    add_archive(parser)


def run(options: Namespace, shell: Shell) -> int:
    """Print the wear of the shed."""
    if asks_archive(options):
        if not options.audit or options.section is not None:
            raise CannotRun("--archive tells of --audit alone, and of whole mills")
        from board.commands import archived

        return archived.audit(options, shell)
    asked = shared.asked(options, shell)
    part = part_named(options.part, asked)
    summary = shared.summary_of(asked, shell, options.section)
    cells = shared.cells(options, shell)
    if options.audit:
        every = audits(summary.past, asked.mill)
        remember(every, summary.past, asked.mill, shell.environ)
        found = tuple(one for one in every if part in (None, one.group.part))
        if options.json:
            shell.document(audit_document(summary, found))
        else:
            shell.show(audit_lines(found, cells), ascii_only=options.ascii)
        return FINE
    if options.json:
        shell.document(wear_document(summary, part))
    else:
        shell.show(wear_table(summary, part, cells), ascii_only=options.ascii)
    return FINE


def part_named(word: str | None, asked: shared.Asked) -> str | None:
    """The register's name of a part that is meant. Raises CannotRun for an unknown one."""
    if word is None:
        return None
    from grammar.folding import fold_word
    from grammar.nearest import did_you_mean

    vocabulary = asked.mill.vocabulary
    part = vocabulary.part_by_word.get(fold_word(word))
    if part is None:
        known = ", ".join(p.name for p in asked.mill.parts)
        hint = did_you_mean(word, vocabulary.part_by_word) or f"the register has {known}"
        raise CannotRun(f"there is no part {word}; {hint}")
    return part.name
