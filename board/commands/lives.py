"""``lives``: how long parts live, by the record.

``--json`` prints ``{"as_of", "unit", "level", "lives": [...], "comparisons": [...]}``. A record of
``lives``: ``part``, ``group`` (null but in comparisons), ``unit``, ``on_record``, ``used``,
``failed``, ``undecided``, ``taken_out``, ``in_service``, ``before_the_log``, ``age_unknown``,
``endings`` (``verdict``, ``why``, ``count``) and ``ways``: one a way of taking undecided lives,
with ``undecided_as`` (``failures``, ``unfinished``), ``failures``, ``median`` (``age``, ``low``,
``high``) or null with ``median_reason``, ``weibull`` (``shape``, ``scale``, ``b10``, each with
``_low`` and ``_high``) or null with ``weibull_reason``, and ``curve`` (``age``, ``at_risk``,
``failures``, ``surviving``, ``low``, ``high`` a step) or null with ``curve_reason``. A limit that
the record does not set is null. A comparison: ``part``, ``by``, ``unnamed``, ``groups`` (records as
above), ``tests``: ``undecided_as``, ``chi_square``, ``degrees``, ``p``, ``p_holm``, ``expected``
(failures by group, if all lived alike), or ``reason``; and ``stands_out``, the groups that fail
clearly sooner than the others, else those that fail clearly later, whichever way undecided lives
are taken: ``group``, ``fails`` (``sooner``, ``later``), ``p_holm`` (the larger), and one a way:
``medians``, ``medians_of_others`` (empty where one is not known yet), ``failures``, ``expected``.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from board.commands import options as shared
from board.commands.archive import add_archive, asks_archive
from board.commands.wear import part_named
from board.reckon.life_record import LifeOnRecord, lives_on_record
from board.reckon.life_study import By, Comparison, LifeStudy, compared, study_of
from board.shell import FINE, CannotRun, Shell
from board.show.lives_compared import compared_lines
from board.show.lives_json import lives_document
from board.show.lives_screen import lives_lines

SUMMARY = "how long parts live: survival, Weibull law, and groups compared"
EXAMPLE = "loomslate lives tape --by batch --folder logs_example --at 2026-11-25T06:00"


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("part", nargs="?", metavar="PART", help="this part, by any of its names")
    shared.add_folder(parser)
    shared.add_form(parser)
    parser.add_argument(
        "--by",
        action="append",
        choices=[by.value for by in By],
        help="compare groups; given again, all tests are adjusted together",
    )
    parser.add_argument(
        "--unit", choices=["h", "picks"], default="h", help="ages in running hours or in picks"
    )
    add_archive(parser)


def run(options: Namespace, shell: Shell) -> int:
    """Print the lives."""
    if asks_archive(options):
        from board.commands import archived

        return archived.lives(options, shell)
    if By.MILL.value in (options.by or ()):
        raise CannotRun("--by mill compares the mills of an archive: --archive OUT")
    asked = shared.asked(options, shell)
    part = part_named(options.part, asked)
    cells = shared.cells(options, shell)
    summary = shared.summary_of(asked, shell)
    of_part: dict[str, list[LifeOnRecord]] = {
        p.name: [] for p in asked.mill.parts if part in (None, p.name)
    }
    fleet, clocks = summary.snapshot.fleet, summary.clocks
    for record in lives_on_record(
        fleet, asked.mill, clocks, summary.calendar, options.unit, of_part
    ):
        of_part[record.at.part].append(record)
    studies: tuple[LifeStudy, ...] = tuple(
        study_of(name, own, options.unit) for name, own in of_part.items()
    )
    factors = [By(value) for value in options.by or ()]
    comparisons: tuple[Comparison, ...] = compared(of_part, factors, options.unit)
    if options.json:
        shell.document(lives_document(summary, studies, comparisons, options.unit))
    else:
        ascii_only = options.ascii
        lines = lives_lines(studies, comparisons, options.unit, cells)
        lines += compared_lines(comparisons, cells)
        shell.show(lines, ascii_only=ascii_only)
    return FINE
