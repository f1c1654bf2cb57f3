"""Part lives as JSON; ``board/JSON.md`` lists its keys."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from board.reckon.comparison import LogRank
from board.reckon.life_record import Way
from board.reckon.life_study import LEVEL, Comparison, LifeStudy, LivesOneWay
from board.reckon.lives import MedianLife, SurvivalCurve
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.reckon.weibull import WeibullFit
from board.show.records import iso

Record = dict[str, Any]

_PLACES = 1  # of an age: a log written by the minute tells no more of running hours
_TAKEN = {Way.AS_FAILURES: "failures", Way.AS_UNFINISHED: "unfinished"}


def lives_document(
    summary: Summary, studies: Sequence[LifeStudy], comparisons: Sequence[Comparison], unit: str
) -> Record:
    """The whole answer."""
    return {
        "as_of": iso(summary, summary.as_of),
        **lives_records(studies, comparisons, unit),
    }


def lives_records(
    studies: Sequence[LifeStudy], comparisons: Sequence[Comparison], unit: str
) -> Record:
    """The studies and comparisons, of whatever they are."""
    return {
        "unit": unit,
        "level": LEVEL,
        "lives": [_study(study) for study in studies],
        "comparisons": [_comparison(one) for one in comparisons],
    }


def _study(study: LifeStudy) -> Record:
    counts = study.counts
    return {
        "part": study.part,
        "group": study.group or None,
        "unit": study.unit,
        "on_record": counts.on_record,
        "used": counts.used,
        "failed": counts.failed,
        "undecided": counts.undecided,
        "taken_out": counts.taken_out,
        "in_service": counts.in_service,
        "before_the_log": counts.before_the_log,
        "age_unknown": counts.age_unknown,
        "endings": [
            {"verdict": verdict.value, "why": why, "count": number}
            for verdict, why, number in study.reasons
        ],
        "ways": [_way(way) for way in study.ways],
    }


def _way(way: LivesOneWay) -> Record:
    return {
        "undecided_as": _TAKEN[way.way],
        "failures": sum(life.is_failure for life in way.lives),
        **_median(way.median),
        **_weibull(way.weibull),
        **_curve(way.curve),
    }


def _median(median: MedianLife | Refusal) -> Record:
    if isinstance(median, Refusal):
        return {"median": None, "median_reason": median.reason}
    return {
        "median": {
            "age": round(median.age, _PLACES),
            "low": round(median.limits.low, _PLACES),
            "high": finite(median.limits.high),
        },
        "median_reason": None,
    }


def _weibull(fit: WeibullFit | Refusal) -> Record:
    if isinstance(fit, Refusal):
        return {"weibull": None, "weibull_reason": fit.reason}
    record: Record = {}
    for name, value, limits, places in (
        ("shape", fit.shape, fit.shape_limits, 3),
        ("scale", fit.scale, fit.scale_limits, _PLACES),
        ("b10", fit.b10, fit.b10_limits, _PLACES),
    ):
        record[name] = round(value, places)
        record[f"{name}_low"] = finite(limits.low, places)
        record[f"{name}_high"] = finite(limits.high, places)
    return {"weibull": record, "weibull_reason": None}


def _curve(curve: SurvivalCurve | Refusal) -> Record:
    if isinstance(curve, Refusal):
        return {"curve": None, "curve_reason": curve.reason}
    steps = [
        {
            "age": round(step.age, _PLACES),
            "at_risk": step.at_risk,
            "failures": step.failures,
            "surviving": round(step.surviving, 5),
            "low": round(step.limits.low, 5),
            "high": round(step.limits.high, 5),
        }
        for step in curve.steps
    ]
    return {"curve": steps, "curve_reason": None}


def _comparison(one: Comparison) -> Record:
    return {
        "part": one.part,
        "by": one.by.value,
        "unnamed": one.unnamed,
        "groups": [_study(group) for group in one.groups],
        "tests": [{"undecided_as": _TAKEN[way], **_test(test)} for way, test in one.tests.items()],
        "stands_out": [
            {
                "group": found.group,
                "fails": "sooner" if found.sooner else "later",
                "p_holm": float(f"{found.p:.3g}"),
                "medians": [round(age, _PLACES) for age in found.medians],
                "medians_of_others": [round(age, _PLACES) for age in found.others],
                "failures": list(found.failed),
                "expected": [round(number, 2) for number in found.expected],
            }
            for found in one.stands_out
        ],
    }


def _test(test: LogRank | Refusal) -> Record:
    if isinstance(test, Refusal):
        return {"chi_square": None, "degrees": None, "p": None, "p_holm": None, "expected": None,
                "reason": test.reason}  # fmt: skip
    return {
        "chi_square": round(test.chi_square, 4),
        "degrees": test.degrees,
        "p": float(f"{test.p_value:.3g}"),
        "p_holm": float(f"{test.p_adjusted:.3g}"),
        "expected": {group.name: round(group.expected, 2) for group in test.groups},
        "reason": None,
    }


def finite(value: float, places: int = _PLACES) -> float | None:
    """A number for JSON, null for a limit that is not set."""
    return round(value, places) if math.isfinite(value) else None
