"""A question put to the mills of an archive: who is asked, in which jobs, and who gave no answer.

Mills with little on record share a job, so that a job is worth giving out; where such a job is
lost, each of its mills is asked alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from board.archive.catalogue import Catalogue, MillKept, NoCatalogue, read_catalogue
from board.archive.opening import MillAsked, NotThere
from board.archive.spreading import Lost, Outcome, Spread, carried_out
from board.archive.tree import tree_reduce
from board.loading import moment_of, read_mill
from board.shell import CannotRun
from board.show.text import clean

T = TypeVar("T")


ENOUGH = 100_000  # entries of a job, where there are so many

# the archive, what is asked, the mills, and what of the environment goes along
Task = tuple[
    str, tuple[tuple[str, object], ...], tuple[MillAsked, ...], tuple[tuple[str, str], ...]
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Archive:
    """An archive that is asked: its catalogue, and the moment that each mill is looked at."""

    out: Path
    mills: tuple[MillKept, ...]
    moments: tuple[datetime, ...]

    @property
    def asked(self) -> tuple[MillAsked, ...]:
        """The mills as jobs are told of them."""
        return tuple(
            (mill.name, mill.folder, moment.isoformat())
            for mill, moment in zip(self.mills, self.moments, strict=True)
        )

    @property
    def now(self) -> datetime:
        """The latest moment that is looked at."""
        return max(self.moments)


def archive_of(named: str, at: str | None) -> Archive:
    """The archive in a folder, as it was brought up to date or as of a time. Raises CannotRun."""
    out = Path(named)
    try:
        catalogue: Catalogue = read_catalogue(out)
    except NoCatalogue as error:
        hint = f"; build it: loomslate archive {clean(named)} --mill NAME=FOLDER"
        raise CannotRun(clean(error.sentence) + hint) from None
    if not catalogue.mills:
        raise CannotRun(f"no mill stands in the archive {clean(named)}")
    moments = tuple(_moment(out, mill, at) for mill in catalogue.mills)
    return Archive(out=out, mills=catalogue.mills, moments=moments)


def _moment(out: Path, kept: MillKept, at: str | None) -> datetime:
    if at is None:
        return kept.moment
    mill = read_mill(out / kept.name)
    # of a register that cannot be read its mill's own job tells
    return kept.moment if isinstance(mill, str) else moment_of(at, mill, "--at")


def ask(
    where: Spread,
    archive: Archive,
    job: Callable[[Task], T],
    question: tuple[tuple[str, object], ...],
    merge: Callable[[T, T], T],
) -> Outcome[T]:
    """What all mills together answer, and the mills whose job was lost."""
    out = str(archive.out.absolute())

    def tasks(groups: Sequence[tuple[MillAsked, ...]]) -> list[tuple[str, Task]]:
        return [
            (" ".join(mill[0] for mill in group), (out, question, group, where.environ))
            for group in groups
        ]

    entries = [mill.entries for mill in archive.mills]
    groups = list(grouped(archive.asked, entries, where.count))
    first = carried_out(where, job, tasks(groups), merge)
    alone = [(mill,) for names, _ in first.lost if " " in names for mill in _of(archive, names)]
    if not alone:
        return first
    more = carried_out(where, job, tasks(alone), merge)
    answers = [each for each in (first.answer, more.answer) if each is not None]
    lost = (*(one for one in first.lost if " " not in one[0]), *more.lost)
    return Outcome(answer=tree_reduce(answers, merge), lost=tuple(sorted(lost)))


def _of(archive: Archive, names: str) -> list[MillAsked]:
    wanted = set(names.split())
    return [mill for mill in archive.asked if mill[0] in wanted]


def grouped(
    mills: Sequence[MillAsked], entries: Sequence[int], workers: int
) -> Iterator[tuple[MillAsked, ...]]:
    """Neighbouring mills in groups of enough entries, but at least one group for each worker."""
    enough = min(ENOUGH, sum(entries) // max(workers, 1))
    group: list[MillAsked] = []
    held = 0
    for mill, count in zip(mills, entries, strict=True):
        group.append(mill)
        held += count
        if held >= enough:
            yield tuple(group)
            group, held = [], 0
    if group:
        yield tuple(group)


def of_each(
    task: Task,
    one: Callable[[MillAsked], T],
    not_there: Callable[[str, str], T],
    merge: Callable[[T, T], T],
) -> T:
    """What the mills of a job answer, merged; of one that cannot be asked, why not."""
    found = []
    for mill in task[2]:
        try:
            found.append(one(mill))
        except NotThere as error:
            found.append(not_there(mill[0], error.sentence))
        except OSError as error:
            found.append(not_there(mill[0], clean(error.strerror or type(error).__name__).lower()))
    merged = tree_reduce(found, merge)
    if merged is None:
        raise ValueError("a job without a mill")
    return merged


def stop_if_unknown(reasons: Sequence[str]) -> None:
    """Raises CannotRun where the question means nothing in any mill, a reason each.

    A sentence that offers a near word goes before others.
    """
    if reasons and all(reasons):
        raise CannotRun(next((r for r in reasons if "did you mean" in r), reasons[0]))


def stop_if_none(archive: Archive, missing: Lost) -> None:
    """Raises CannotRun where no mill at all could be asked."""
    if len(missing) >= len(archive.mills):
        name, reason = missing[0]
        more = f"; nor can {len(missing) - 1} more" if len(missing) > 1 else ""
        raise CannotRun(f"{name} cannot be asked: {reason}{more}")
