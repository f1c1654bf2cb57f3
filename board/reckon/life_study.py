"""What the lives of one kind of part say: curve, median and Weibull fit, each of both ways.

The lives and their verdicts come from ``life_record``. Where the record leaves the end of a life
undecided, everything is reckoned twice, once with such lives as failures and once as unfinished;
the truth of a part taken out since it looked worn lies between the two.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from board.reckon.comparison import LogRank, log_rank_each
from board.reckon.life_record import (
    BEFORE_THE_LOG,
    LifeOnRecord,
    Verdict,
    Way,
    as_lives,
)
from board.reckon.lives import Life, MedianLife, SurvivalCurve, kaplan_meier, median_life
from board.reckon.refusal import Refusal
from board.reckon.weibull import WeibullFit, fit_weibull

LEVEL = 0.90


class By(Enum):
    """What lives are told apart by."""

    SIDE = "side"
    BATCH = "batch"
    STYLE = "style"


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeCounts:
    """How many lives there are of each kind; ``used`` of them have a known age."""

    on_record: int
    used: int
    failed: int
    undecided: int
    taken_out: int  # for another reason than failing
    in_service: int
    before_the_log: int
    age_unknown: int  # for another reason


@dataclass(frozen=True, slots=True, kw_only=True)
class LivesOneWay:
    """The answers with undecided lives taken one way."""

    way: Way
    lives: tuple[Life, ...]
    curve: SurvivalCurve | Refusal
    median: MedianLife | Refusal
    weibull: WeibullFit | Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeStudy:
    """The lives of a part, or of one group of it; ``ways`` holds one answer if none is undecided.

    ``reasons`` counts what the verdicts rest on, the most frequent first.
    """

    part: str
    group: str
    unit: str
    counts: LifeCounts
    reasons: tuple[tuple[Verdict, str, int], ...]
    ways: tuple[LivesOneWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The groups of a part against each other, one test a way; ``unnamed`` lives are in no group.

    ``groups`` holds a study of each group, by name.
    """

    part: str
    by: By
    groups: tuple[LifeStudy, ...]
    unnamed: int
    tests: Mapping[Way, LogRank | Refusal]


def study_of(part: str, records: Sequence[LifeOnRecord], unit: str, group: str = "") -> LifeStudy:
    """Everything that the lives of a part say."""
    counts = _counts(records)
    ways = [Way.AS_FAILURES, Way.AS_UNFINISHED] if counts.undecided else [Way.AS_FAILURES]
    known = [r for r in records if not isinstance(r.age, Refusal)]
    found = Counter((r.verdict, r.why) for r in known)
    order = list(Verdict)
    return LifeStudy(
        part=part,
        group=group,
        unit=unit,
        counts=counts,
        reasons=tuple(
            (verdict, why, number)
            for (verdict, why), number in sorted(
                found.items(), key=lambda x: (order.index(x[0][0]), -x[1], x[0][1])
            )
        ),
        ways=tuple(_one_way(records, way) for way in ways),
    )


def _one_way(records: Sequence[LifeOnRecord], way: Way) -> LivesOneWay:
    lives = as_lives(records, way)
    curve = kaplan_meier(lives, level=LEVEL)
    return LivesOneWay(
        way=way,
        lives=tuple(lives),
        curve=curve,
        median=curve if isinstance(curve, Refusal) else median_life(curve),
        weibull=fit_weibull(lives, level=LEVEL),
    )


def _counts(records: Sequence[LifeOnRecord]) -> LifeCounts:
    known = [r for r in records if not isinstance(r.age, Refusal)]
    unfinished = [r for r in known if r.verdict is Verdict.UNFINISHED]
    in_service = sum(r.life.ended is None for r in unfinished)
    before = sum(r.age == BEFORE_THE_LOG for r in records)
    return LifeCounts(
        on_record=len(records),
        used=len(known),
        failed=sum(r.verdict is Verdict.FAILED for r in known),
        undecided=sum(r.verdict is Verdict.UNDECIDED for r in known),
        taken_out=len(unfinished) - in_service,
        in_service=in_service,
        before_the_log=before,
        age_unknown=len(records) - len(known) - before,
    )


def compared(
    records: Mapping[str, Sequence[LifeOnRecord]], factors: Sequence[By], unit: str
) -> tuple[Comparison, ...]:
    """Each part's groups compared by each factor; all tests of a way are adjusted together."""
    groups = {
        (part, by): _grouped(own, by)
        for part, own in records.items()
        for by in dict.fromkeys(factors)
    }
    tests: dict[Way, dict[str, LogRank | Refusal]] = {}
    for way in Way:
        tests[way] = log_rank_each(
            {
                f"{part} {by.value}": {
                    name: as_lives(own, way) for name, own in named.items() if name
                }
                for (part, by), named in groups.items()
            }
        )
    return tuple(
        Comparison(
            part=part,
            by=by,
            groups=tuple(
                study_of(part, own, unit, group=name) for name, own in named.items() if name
            ),
            unnamed=sum(not isinstance(r.age, Refusal) for r in named.get("", ())),
            tests={way: tests[way][f"{part} {by.value}"] for way in Way},
        )
        for (part, by), named in groups.items()
    )


def _grouped(records: Sequence[LifeOnRecord], by: By) -> dict[str, list[LifeOnRecord]]:
    """The lives of known age by the name of their group, "" for those without one."""
    found: dict[str, list[LifeOnRecord]] = {}
    for record in records:
        if isinstance(record.age, Refusal):
            continue
        found.setdefault(_name(record, by), []).append(record)
    return dict(sorted(found.items()))


def _name(record: LifeOnRecord, by: By) -> str:
    match by:
        case By.SIDE:
            return record.at.side or ""
        case By.BATCH:
            return record.life.batch or ""
        case By.STYLE:
            return record.life.style or ""
