"""What the lives of one kind of part say: curve, median and Weibull fit, each of both ways.

The lives and their verdicts come from ``life_record``. Where the record leaves the end of a life
undecided, everything is reckoned twice, once with such lives as failures and once as unfinished;
the truth of a part taken out since it looked worn lies between the two.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from enum import Enum

from board.reckon.comparison import LogRank, against_the_rest_each, log_rank_each
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
from grammar.frozen import dataclass

LEVEL = 0.90
CLEAR = 0.05  # an adjusted chance below this is called clear, if it is so both ways
ENOUGH = 5.0  # fewer failures than this, seen or expected: the chi-square is too rough to name one


class By(Enum):
    """What lives are told apart by."""

    SIDE = "side"
    BATCH = "batch"
    STYLE = "style"
    MILL = "mill"  # where several are asked


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
class StandsOut:
    """A group that fails sooner, or later, than the others: clear whichever way is taken.

    ``p`` is the larger of the ways, after Holm over every group asked about. ``medians`` are its
    own and ``others`` those of the rest together, one a way, empty where one is not known yet;
    ``failed`` and ``expected`` its failures and those expected if all lived alike, one a way.
    """

    group: str
    sooner: bool
    p: float
    medians: tuple[float, ...]
    others: tuple[float, ...]
    failed: tuple[int, ...]
    expected: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The groups of a part against each other, one test a way; ``unnamed`` lives are in no group.

    ``groups`` holds a study of each group, by name; ``stands_out`` those that fail clearly sooner
    than the others, else those that fail clearly later.
    """

    part: str
    by: By
    groups: tuple[LifeStudy, ...]
    unnamed: int
    tests: Mapping[Way, LogRank | Refusal]
    stands_out: tuple[StandsOut, ...]


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
    lives = {
        way: {
            f"{part} {by.value}": {name: as_lives(own, way) for name, own in named.items() if name}
            for (part, by), named in groups.items()
        }
        for way in Way
    }
    tests = {way: log_rank_each(factors) for way, factors in lives.items()}
    singled = {way: against_the_rest_each(factors) for way, factors in lives.items()}
    return tuple(
        Comparison(
            part=part,
            by=by,
            groups=tuple(
                study_of(part, own, unit, group=name) for name, own in named.items() if name
            ),
            unnamed=sum(not isinstance(r.age, Refusal) for r in named.get("", ())),
            tests={way: tests[way][f"{part} {by.value}"] for way in Way},
            stands_out=_standing_out(
                {way: tests[way][f"{part} {by.value}"] for way in Way},
                {way: singled[way][f"{part} {by.value}"] for way in Way},
                {way: lives[way][f"{part} {by.value}"] for way in Way},
            ),
        )
        for (part, by), named in groups.items()
    )


def _standing_out(
    tests: Mapping[Way, LogRank | Refusal],
    singled: Mapping[Way, Mapping[str, LogRank | Refusal]],
    lives: Mapping[Way, Mapping[str, Sequence[Life]]],
) -> tuple[StandsOut, ...]:
    """The groups that fail clearly sooner; where there are none, those that fail clearly later.

    Beside a group that fails sooner, all others fail later than the rest that it is part of.
    """
    if any(isinstance(test, Refusal) or test.p_adjusted >= CLEAR for test in tests.values()):
        return ()
    found = [
        one
        for name in singled[Way.AS_FAILURES]
        if (one := _stands_out(name, singled, lives)) is not None
    ]
    return tuple(one for one in found if one.sooner) or tuple(found)


def _stands_out(
    name: str,
    singled: Mapping[Way, Mapping[str, LogRank | Refusal]],
    lives: Mapping[Way, Mapping[str, Sequence[Life]]],
) -> StandsOut | None:
    """What sets a group apart, or None where that is not clear both ways or the ways disagree."""
    tests = []
    for way in Way:
        test = singled[way].get(name)
        if not isinstance(test, LogRank) or test.p_adjusted >= CLEAR:
            return None
        # few expected alone is no reason: a group that fails early enough has few to be expected
        if any(max(group.failures, group.expected) < ENOUGH for group in test.groups):
            return None
        tests.append(test)
    own = [test.groups[0] for test in tests]
    sooner = [group.failures > group.expected for group in own]
    if len(set(sooner)) > 1:
        return None
    medians = [_median_of(lives[way][name]) for way in Way]
    others = [
        _median_of([life for other, n in lives[way].items() if other != name for life in n])
        for way in Way
    ]
    both = [x for x in (*medians, *others) if x is not None]
    known = len(both) == 2 * len(tests)
    return StandsOut(
        group=name,
        sooner=sooner[0],
        p=max(test.p_adjusted for test in tests),
        medians=tuple(both[: len(tests)]) if known else (),
        others=tuple(both[len(tests) :]) if known else (),
        failed=tuple(group.failures for group in own),
        expected=tuple(group.expected for group in own),
    )


def _median_of(lives: Sequence[Life]) -> float | None:
    curve = kaplan_meier(lives, level=LEVEL)
    median = curve if isinstance(curve, Refusal) else median_life(curve)
    return None if isinstance(median, Refusal) else median.age


def _grouped(records: Sequence[LifeOnRecord], by: By) -> dict[str, list[LifeOnRecord]]:
    """The lives of known age by the name of their group, "" for those without one."""
    found: dict[str, list[LifeOnRecord]] = {}
    for record in records:
        if isinstance(record.age, Refusal):
            continue
        found.setdefault(_name(record, by), []).append(record)
    return {name: found[name] for name in sorted(found, key=natural)}


def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """What names are sorted by, so that H2 stands before H10."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", name.casefold())
    return tuple(_piece(piece) for piece in pieces)


def _piece(piece: str) -> tuple[int, int, str]:
    if not piece[0].isdigit():
        return 1, 0, piece
    digits = piece.lstrip("0")
    return 0, len(digits), digits


def _name(record: LifeOnRecord, by: By) -> str:
    match by:
        case By.SIDE:
            return record.at.side or ""
        case By.BATCH:
            return record.life.batch or ""
        case By.STYLE:
            return record.life.style or ""
        case By.MILL:
            return record.mill
