"""The board as one JSON document; ``board/JSON.md`` lists its keys.

Times are ISO 8601 with the shed's offset, numbers stand beside their unit, what is not known is
null with a reason beside it.
"""

from __future__ import annotations

from datetime import datetime

from board.reckon.asking import changed_after_handover
from board.reckon.changes import changed_since
from board.reckon.conformity import conformance_probability, decide
from board.reckon.left import Ahead, Band
from board.reckon.margins import WearLine
from board.reckon.may_isolate import may_be_isolated
from board.reckon.open_actions import ActionLine
from board.reckon.refusal import Refusal
from board.reckon.summary import LoomLine, Summary
from board.show.may_rows import may_record
from board.show.records import Record, iso, part_record
from board.state.fleet import Isolation, LoomState, Motion, Proof, ProofFault
from grammar.entries import DueAt


def board_document(summary: Summary, since: datetime, *, current: bool = True) -> Record:
    """The whole board."""
    fleet = summary.snapshot.fleet
    counts = summary.counts
    shift = summary.shift
    tally = summary.snapshot.tally
    return {
        "as_of": iso(summary, summary.as_of),
        "shift": _shift(summary) if shift else None,
        "shift_reason": None if shift else "closed hours",
        "counts": {
            "isolated": counts.isolated,
            "conflict": counts.conflict,
            "stopped": counts.stopped,
            "running": counts.running,
            "unknown": counts.unknown,
            "past_limit": counts.past_limit,
            "at_limit": counts.at_limit,
            "silent": counts.silent,
            "proofs_missing": counts.proofs_missing,
            "actions": counts.actions,
            "not_understood": counts.not_understood,
        },
        "read": {
            "files": tally.files,
            "lines": tally.lines,
            "entries": tally.entries,
            "refused": tally.refused,
            "flagged": tally.flagged,
            "not_read": list(summary.snapshot.notices),
        },
        "section": summary.section,
        "looms": [_loom(summary, line) for line in summary.looms],
        "isolated_elsewhere": [
            {"loom": state.loom, "isolation": _isolation(summary, state)}
            for state in summary.isolated_elsewhere
        ],
        "shed": {"actions": [_action(summary, a) for a in summary.shed_actions]},
        "handovers": [
            {
                "what": h.what,
                "by": h.by,
                "to": h.to,
                "said": iso(summary, h.said),
                "taken": iso(summary, h.taken),
                "taken_by": h.taken_by,
            }
            for h in fleet.shed.handovers.values()
        ],
        "changed_after_handover": [
            {
                "path": c.path,
                "line": c.diagnostic.line,
                "text": c.diagnostic.text,
                "message": c.diagnostic.message,
                "help": c.diagnostic.help,
            }
            for c in changed_after_handover(summary)
        ],
        "changed_since": iso(summary, since),
        "changed": [
            {
                "when": iso(summary, c.when),
                "loom": c.loom,
                "what": c.what,
                "text": c.words,
                "by": c.by,
            }
            for c in changed_since(summary, since)
        ],
        "may_be_isolation": [may_record(summary, m) for m in summary.may_isolate],
        "unfinished": [
            {"path": u.path, "line": u.line, "text": u.text} for u in summary.snapshot.unfinished
        ],
        "not_understood": counts.not_understood,
        "current": current,
    }


def _shift(summary: Summary) -> str | None:
    return summary.shift.shift.name if summary.shift else None


def _loom(summary: Summary, item: LoomLine) -> Record:
    state = item.state
    return {
        "loom": state.loom,
        "section": item.section,
        "motion": state.motion.value,
        "motion_since": iso(summary, state.motion_since),
        "motion_reason": "no motion on record" if state.motion is Motion.UNKNOWN else None,
        "stopped_for": state.stopped_for.value if state.stopped_for else None,
        "isolation": _isolation(summary, state),
        "faults": [
            {
                "since": iso(summary, f.since),
                "text": f.text,
                "side": f.side,
                "part": f.part,
                "symptom": f.symptom,
                "by": f.by,
            }
            for f in state.faults
        ],
        "actions": [_action(summary, a) for a in item.actions],
        "proofs_missing": [_proof(summary, p) for p in state.proofs],
        "wear": [wear_record(summary, w) for w in item.wear],
        "style": state.style,
        "last_entry": iso(summary, state.last_entry),
        "silent_shifts": item.silent_shifts,
        "silent_reason": "no entry at all" if item.silent_shifts is None else None,
    }


def _isolation(summary: Summary, state: LoomState) -> Record:
    return {
        "state": state.isolation.value,
        "conflict_since": iso(summary, state.conflict_since),
        "locks": [
            {
                "by": lock.by,
                "text": lock.text,
                "since": iso(summary, lock.since),
                "seen_this_shift": summary.seen_this_shift(lock),
                "still_to_come": summary.is_to_come(lock),
                "seen_by": lock.seen.by if lock.seen else None,
                "seen": iso(summary, lock.seen.when) if lock.seen else None,
            }
            for lock in state.locks
        ],
        "removed_for_others": [
            {"by": r.by, "owner": r.owner, "when": iso(summary, r.when)}
            for r in state.removed_for_others
        ],
        "none_is_no_proof": state.isolation is Isolation.NONE_RECORDED,
        "may_be_isolated": state.loom in may_be_isolated(summary),
    }


def _action(summary: Summary, item: ActionLine) -> Record:
    action = item.action
    due = action.due
    known = not isinstance(item.overdue, Refusal)
    return {
        "number": action.number,
        "place": action.place.name,
        "text": action.text,
        "due": iso(summary, due.moment) if isinstance(due, DueAt) else due.written if due else None,
        "due_written": due.written if due else None,
        "overdue": item.overdue if known else None,
        "overdue_reason": None if known else getattr(item.overdue, "reason", None),
        "opened": iso(summary, action.opened),
        "opened_by": action.by,
        "for": action.whom,
        "age_shifts": item.age_shifts,
    }


def _proof(summary: Summary, proof: Proof) -> Record:
    return {
        **part_record(proof.at),
        "what": proof.what,
        "since": iso(summary, proof.since),
        "by": proof.by,
        "failed": proof.fault is ProofFault.FAILED,
        "why": proof.why or None,
    }


def wear_record(summary: Summary, wear: WearLine) -> Record:
    """A measured quantity of a part in service."""
    return {
        **part_record(wear.at),
        "quantity": wear.quantity,
        "value": wear.reading.value,
        "bound": wear.reading.bound.value,
        "unit": wear.reading.unit,
        "uncertainty": wear.uncertainty,
        "read_at": iso(summary, wear.reading.when),
        "verdicts_since": [
            {"value": r.value, "bound": r.bound.value, "read_at": iso(summary, r.when)}
            for r in wear.since
        ],
        "uncertainty_reason": None if wear.uncertainty is not None else _NO_TOOL,
        "old": None if wear.old_unknown else wear.old,
        "old_reason": wear.old_unknown or None,
        "limit": wear.limit,
        "limit_reason": None if wear.limit is not None else "no limit given",
        "margin": round(wear.margin, 9) if wear.margin is not None else None,
        "margin_reason": _no_margin(wear),
        "word": wear.word.value,
        **_conformity(summary, wear),
        **forecast_record(wear.ahead),
    }


def _conformity(summary: Summary, wear: WearLine) -> Record:
    """The chance that the true value lies inside its limits, and what the guard band decides."""
    quantity = summary.snapshot.mill.quantity(wear.at.part, wear.quantity)
    if quantity is None or wear.margin is None or not wear.uncertainty:
        return {"p_conforms": None, "decision": None, "p_reason": _no_margin(wear) or _NO_TOOL}
    value, limits, u = wear.reading.value, quantity.limits, wear.uncertainty
    decision = decide(value, limits, u, summary.snapshot.mill.rules.guard_band)
    return {
        "p_conforms": round(conformance_probability(value, limits, u / 2.0), 4),
        "decision": None if isinstance(decision, Refusal) else decision.value,
        "p_reason": None,
    }


_NO_TOOL = "the register gives no tool uncertainty"


def _no_margin(wear: WearLine) -> str | None:
    if wear.margin is not None:
        return None
    return "no limit given" if wear.limit is None else "a gauge gives no value"


def forecast_record(ahead: Ahead | Refusal) -> Record:
    """The forecast, or null with the reason why there is none."""
    if isinstance(ahead, Refusal):
        return {"forecast": None, "no_forecast": ahead.reason}
    return {
        "forecast": {
            "limit": ahead.limit,
            "remaining_h": _band(ahead.hours),
            "shifts": _band(ahead.shifts),
            "shifts_reason": _reason(ahead.shifts),
            "picks": _band(ahead.picks),
            "picks_reason": _reason(ahead.picks),
            "level": 0.90,
            "p_before_shift_end": _chance(ahead.p_before_shift_end),
            "p_before_shift_end_reason": _reason(ahead.p_before_shift_end),
            "p_before_check": _chance(ahead.p_before_check),
            "p_before_check_reason": _reason(ahead.p_before_check),
            "basis": ahead.basis,
            "readings": ahead.readings,
            "past_lives": ahead.past_lives,
        },
        "no_forecast": None,
    }


def _band(band: Band | Refusal) -> Record | None:
    if isinstance(band, Refusal):
        return None
    return {
        "median": round(band.median, 2),
        "low": round(band.low, 2),
        "high": round(band.high, 2) if band.high is not None else None,
        "high_reason": None if band.high is not None else "the band has no upper end",
    }


def _reason(answer: object) -> str | None:
    return answer.reason if isinstance(answer, Refusal) else None


def _chance(chance: float | Refusal) -> float | None:
    return None if isinstance(chance, Refusal) else round(chance, 4)
