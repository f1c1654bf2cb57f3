"""Part lives as JSON; the command ``lives`` lists the keys."""

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
from board.show.as_json import iso

Record = dict[str, Any]

_TAKEN = {Way.AS_FAILURES: "failures", Way.AS_UNFINISHED: "unfinished"}


def lives_document(
    summary: Summary, studies: Sequence[LifeStudy], comparisons: Sequence[Comparison], unit: str
) -> Record:
    """The whole answer."""
    return {
        "as_of": iso(summary, summary.as_of),
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
            "age": round(median.age, 2),
            "low": round(median.limits.low, 2),
            "high": finite(median.limits.high),
        },
        "median_reason": None,
    }


def _weibull(fit: WeibullFit | Refusal) -> Record:
    if isinstance(fit, Refusal):
        return {"weibull": None, "weibull_reason": fit.reason}
    record: Record = {}
    for name, value, limits in (
        ("shape", fit.shape, fit.shape_limits),
        ("scale", fit.scale, fit.scale_limits),
        ("b10", fit.b10, fit.b10_limits),
    ):
        record[name] = round(value, 4)
        record[f"{name}_low"] = finite(limits.low, 4)
        record[f"{name}_high"] = finite(limits.high, 4)
    return {"weibull": record, "weibull_reason": None}


def _curve(curve: SurvivalCurve | Refusal) -> Record:
    if isinstance(curve, Refusal):
        return {"curve": None, "curve_reason": curve.reason}
    steps = [
        {
            "age": round(step.age, 2),
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


def finite(value: float, places: int = 2) -> float | None:
    """A number for JSON, null for a limit that is not set."""
    return round(value, places) if math.isfinite(value) else None
