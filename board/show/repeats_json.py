"""Repeat faults as one JSON document; ``board/JSON.md`` lists its keys."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from board.reckon.chains import Link
from board.reckon.limits import Limits
from board.reckon.refusal import Refusal
from board.reckon.repair_record import Exposed, JobRecord, MovedPart, Repair
from board.reckon.repeat_rates import Q, SymptomRate, TrendOf
from board.reckon.repeat_report import RepeatReport, ToldChain
from board.show.records import Record
from board.show.repeats_figures import LIMITS_OF_COMPARISON, THE_LOGGING


def repeats_document(report: RepeatReport, zone: ZoneInfo) -> Record:
    """The whole report."""
    window = report.window
    return {
        "window": {
            "hours": window.hours,
            "days": window.days / timedelta(days=1) if window.days is not None else None,
            "rule": window.words(),
        },
        "from": _iso(report.span.start, zone),
        "to": _iso(report.span.end, zone),
        "part": report.asked.part,
        "loom": report.asked.loom,
        "faults": report.faults,
        "running_h": round(sum(report.hours.values()), 2),
        "chains": [_chain(told, zone) for told in report.chains],
        "moved": [_moved(m, zone) for m in report.moved],
        "rates": [_rate(rate) for rate in report.rates],
        **_trends(report),
        **_curve(report),
        "above": _above(report),
        "symptoms": [
            {
                "symptom": t.symptom,
                "part": t.part,
                "text": t.text,
                "count": t.count,
                "grouped_by": t.how.value,
                "fits": list(t.fits),
            }
            for t in report.texts
        ],
    }


def _iso(when: datetime, zone: ZoneInfo) -> str:
    return when.astimezone(zone).isoformat(timespec="minutes")


def _chain(told: ToldChain, zone: ZoneInfo) -> Record:
    first = told.chain.first
    links = list(zip(told.chain.links, told.repairs, strict=True))
    return {
        "loom": first.loom,
        "part": first.part,
        "side": first.side,
        "symptom": first.symptom,
        "times": [
            {
                "when": _iso(link.fault.since, zone),
                "text": link.fault.text,
                "grouped_by": link.fault.how.value,
                "path": link.fault.source.path,
                "line": link.fault.source.line,
                "cleared": _iso(link.fault.cleared, zone) if link.fault.cleared else None,
                "written_again": link.fault.again,
            }
            for link, _ in links
        ],
        "between": [_between(link, repair, zone) for link, repair in links[:-1]],
        "since": _between(*links[-1], zone),
        "open": told.chain.is_open,
        "again_with_new_part": told.again_with_new_part,
        "not_measured_beside": list(told.not_measured_beside),
        "moved": [_moved(m, zone) for m in told.moved],
    }


def _between(link: Link, repair: Repair, zone: ZoneInfo) -> Record:
    return {
        "hours": round(link.hours, 2) if link.hours is not None else None,
        "days": round(link.time / timedelta(days=1), 3) if link.time is not None else None,
        "cleared": link.fault.cleared_text or None,
        "jobs": [_job(record, zone) for record in repair.jobs],
        "measured": [
            {
                "quantity": r.quantity,
                "number": r.at.number,
                "value": float(f"{r.reading.value:.5g}"),
                "written": r.reading.written,
                "unit": r.reading.unit,
                "bound": r.reading.bound.value,
                "when": _iso(r.reading.when, zone),
            }
            for r in repair.measured
        ],
        "not_measured": list(repair.not_measured),
    }


def _job(record: JobRecord, zone: ZoneInfo) -> Record:
    job = record.job
    return {
        "when": _iso(job.when, zone),
        "work": job.verb.value if job.verb else "moved",
        "text": job.text,
        "side": job.at.side,
        "number": job.at.number,
        "from": job.origin,
        "proofs": list(record.proofs),
        "failed": list(record.failed),
        "not_written": list(record.not_proved),
        "batch": record.batch,
        "style": job.style,
    }


def _moved(moved: MovedPart, zone: ZoneInfo) -> Record:
    return {
        "part": moved.job.at.part,
        "side": moved.job.at.side,
        "from": moved.job.origin,
        "to": moved.job.loom,
        "when": _iso(moved.job.when, zone),
        "symptom": moved.symptom,
        "before_with_it": _exposed(moved.before),
        "since_with_it": _exposed(moved.went),
        "since_without_it": _exposed(moved.left),
        "follows": moved.follows.value,
    }


def _exposed(exposed: Exposed) -> Record:
    hours = round(exposed.hours, 2) if exposed.hours is not None else None
    return {"faults": exposed.faults, "hours": hours}


def _rate(rate: SymptomRate) -> Record:
    found = rate.rate
    head: Record = {
        "part": rate.part,
        "symptom": rate.symptom,
        "faults": rate.faults,
        "repeats": rate.repeats,
        "looms": rate.looms,
    }
    if isinstance(found, Refusal):
        return {**head, "per_1000_h": None, "reason": found.reason}
    return {
        **head,
        "running_h": round(found.exposure, 2),
        "per_1000_h": round(found.rate * 1000, 6),
        "limits": _limits(found.limits, 1000.0),
        "reason": None,
    }


def _limits(limits: Limits, times: float = 1.0) -> Record:
    return {
        "low": round(limits.low * times, 6),
        "high": round(limits.high * times, 6),
        "level": limits.level,
        "method": limits.method.value,
    }


def _trends(report: RepeatReport) -> Record:
    caution = THE_LOGGING if report.span.is_young else None
    if isinstance(report.trends, Refusal):
        return {"trend": [], "trend_reason": report.trends.reason, "trend_caution": caution}
    return {
        "trend": [_trend(trend) for trend in report.trends],
        "trend_reason": None,
        "trend_caution": caution,
    }


def _trend(trend: TrendOf) -> Record:
    head: Record = {"of": trend.what, "faults": trend.faults}
    tests = trend.tests
    if isinstance(tests, Refusal):
        return {**head, "laplace": None, "military": None, "reason": tests.reason}
    return {
        **head,
        "ended": tests.ended.value,
        "end_h": round(tests.end, 2),
        "laplace": {
            "u": round(tests.laplace, 6),
            "p": round(tests.laplace_p, 6),
            "p_holm": round(trend.laplace_adjusted or 0.0, 6),
        },
        "military": {
            "chi_square": round(tests.military, 6),
            "degrees": tests.degrees,
            "p": round(tests.military_p, 6),
            "p_holm": round(trend.military_adjusted or 0.0, 6),
        },
        "reason": None,
    }


def _curve(report: RepeatReport) -> Record:
    curve = report.cumulative
    if isinstance(curve, Refusal):
        return {"mean_cumulative": None, "mean_cumulative_reason": curve.reason}
    steps = [
        {
            "hours": round(s.age, 3),
            "mean": round(s.mean, 6),
            "at_risk": s.at_risk,
            "limits": None if isinstance(s.limits, Refusal) else _limits(s.limits),
        }
        for s in curve.steps
    ]
    return {"mean_cumulative": steps, "mean_cumulative_reason": None}


def _above(report: RepeatReport) -> Record:
    answer = report.compared.answer
    if isinstance(answer, Refusal):
        return {"q": Q, "looms": None, "reason": answer.reason, "power": []}
    spread = report.compared.spread
    return {
        "q": answer.q,
        "looms": [
            {
                "loom": a.name,
                "faults": a.count,
                "running_h": round(a.exposure, 2),
                "expected": round(a.expected, 4),
                "chance": round(a.chance, 6),
                "adjusted": round(a.adjusted, 6),
            }
            for a in answer.above
        ],
        "reason": None,
        "compared": answer.looms,
        "faults": answer.count,
        "left_out": list(answer.left_out),
        "dispersion": None if isinstance(spread, Refusal) else round(spread.index, 4),
        "power": [
            {"factor": p.factor, "named": p.found.count, "of": p.found.of}
            for p in report.compared.power
        ],
        "not_modelled": LIMITS_OF_COMPARISON,
    }
