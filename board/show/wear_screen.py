"""The wear of the whole shed as a table, and the audit of its past forecasts."""

from __future__ import annotations

from typing import Any

from board.reckon.audit import Audit
from board.reckon.conformity import WearWord
from board.reckon.left import Ahead
from board.reckon.margins import WearLine
from board.reckon.past_forecasts import GroupAudit, held
from board.reckon.refusal import Refusal
from board.reckon.summary import Summary
from board.show.as_json import wear_record
from board.show.lines import Bit, Line, Tone, folded, line, title
from board.show.prose import prose
from board.show.records import iso
from board.show.rows import ahead_words, loom_cell, margin_words, signed_margin, value_words
from board.show.text import clean, fill, pad, width, wrapped

_RANK = {
    WearWord.PAST_LIMIT: 0,
    WearWord.GAUGE_PAST: 1,
    WearWord.AT_LIMIT: 2,
    WearWord.NEAR_LIMIT: 3,
}


def chosen(summary: Summary, part: str | None) -> tuple[WearLine, ...]:
    """The lines of a part, or all, the most urgent first."""
    lines = [w for x in summary.looms for w in x.wear if part in (None, w.at.part)]
    return tuple(sorted(lines, key=_urgency))


def _urgency(wear: WearLine) -> tuple[int, float, str, str]:
    low = float("inf")
    if isinstance(wear.ahead, Ahead):
        shifts = wear.ahead.shifts
        low = wear.ahead.hours.low / 8.0 if isinstance(shifts, Refusal) else shifts.low
    return _RANK.get(wear.word, 4), low, wear.loom, wear.name


def wear_table(summary: Summary, part: str | None, cells: int) -> list[Line]:
    """Every measured part: value, margin, what is left with its 90 % band, and on what it rests."""
    lines = chosen(summary, part)
    told = "+ inside, - beyond; shifts left: 5 % to 95 % chance"
    told += "; then what it rests on" if cells >= 110 else ""
    rows = [title(f"WEAR {len(lines)}", told, cells)]
    reasons: dict[str, int] = {}
    for wear in lines:
        strong = _RANK.get(wear.word, 4) < 3
        value = value_words(wear)
        ahead = ahead_words(wear)
        if isinstance(wear.ahead, Refusal):
            reasons[wear.ahead.reason] = reasons.get(wear.ahead.reason, 0) + 1
        word = "" if wear.margin is None else margin_words(wear)
        said = word if strong and word else f"{wear.word.value} {word}".strip()
        basis = f"  {wear.ahead.basis}" if isinstance(wear.ahead, Ahead) and cells >= 110 else ""
        tail = f"  {ahead}" if ahead else ""
        loom = Bit(f"{loom_cell(wear.loom)} ", Tone.STRONG)
        head = f"{fill(clean(wear.name), 21)} {fill(clean(value), 14)} "
        old = ", old reading" if wear.old else ""
        tone = Tone.ABNORMAL if strong else Tone.PLAIN
        # a number that is cut would be another number: what does not fit is left out whole
        choices = [
            line(loom, head, Bit(f"{words}{old}", tone), after)
            for words, after in (
                (said, f"{tail}{basis}"), (said, tail), (signed_margin(wear), tail),
                (said, ""), (signed_margin(wear), ""), (wear.word.value, ""),
            )
        ]  # fmt: skip
        fitting = [row for row in choices if width(row.plain) <= cells]
        rows.append((fitting or choices[-1:])[0].fitted(cells))
    if reasons:
        rows.append(title("NO FORECAST", "and why", cells))
        for reason, count in reasons.items():
            rows += folded([Bit(f"{count:>4}  ")], reason, cells)
    if summary.held is not None:
        rows += prose(f"90 % bands of past forecasts {summary.held.sentence}", cells)
    return rows


def wear_document(summary: Summary, part: str | None) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "as_of": iso(summary, summary.as_of),
        "wear": [{"loom": w.loom, **wear_record(summary, w)} for w in chosen(summary, part)],
    }


def audit_lines(found: tuple[GroupAudit, ...], cells: int) -> list[Line]:
    """How often the band held, median errors against two rivals, and by how much was left."""
    rows = [title("PAST FORECASTS", "each from the lines before its time only, one a life", cells)]
    explained = (
        "held: the limit passed inside the 90 % band. error: of the median, in % of what was left;"
        " ignoring: the fleet's median life less the age; own line: through its own readings."
    )
    rows += [line(text) for text in wrapped(explained.split(), cells, gap=" ")]
    for one in found:
        rows += audited_lines(f"{one.group.words()} to {one.limit:g}", one.audit)
    rows.append(line(Bit(f"all: {held(found).sentence}", Tone.STRONG)))
    return [row.fitted(cells) for row in rows]


def audited_lines(name: str, audit: Audit | Refusal) -> list[Line]:
    """How the forecasts of one group held."""
    head = Bit(f"{pad(name, 30)} ", Tone.STRONG)
    if not isinstance(audit, Audit):
        return [line(head, audit.reason)]
    rows = [line(head, audit.sentence)]
    if not audit.all.judged:
        return rows
    rows.append(line(f"    {_errors(audit)}"))
    rows += [
        line(f"    left {_horizon(audit, i)}: held {t.held} of {_lives(t.judged)}")
        for i, (_, t) in enumerate(audit.horizons)
        if t.judged
    ]
    return rows


def _lives(number: int) -> str:
    return f"{number} life" if number == 1 else f"{number} lives"


def _errors(audit: Audit) -> str:
    tally = audit.all
    parts = [("error", tally.error), ("ignoring", tally.ignoring), ("own line", tally.own_line)]
    return "median " + ", ".join(
        f"{name} {value:.0f} %" if not isinstance(value, Refusal) else f"{name}: {value.reason}"
        for name, value in parts
    )


def _horizon(audit: Audit, index: int) -> str:
    ends = [high for high, _ in audit.horizons]
    low = 0.0 if index == 0 else ends[index - 1]
    if ends[index] == float("inf"):
        return f"over {low:.0f} h"
    return f"{low:.0f} to {ends[index]:.0f} h"


def audit_document(summary: Summary, found: tuple[GroupAudit, ...]) -> dict[str, Any]:
    """The audit as JSON."""
    return {
        "as_of": iso(summary, summary.as_of),
        "level": 0.90,
        "groups": [_group(one) for one in found],
        "held": held(found).held,
        "judged": held(found).judged,
        "replaced_before_judgement": held(found).replaced_early,
    }


def _group(one: GroupAudit) -> dict[str, Any]:
    base: dict[str, Any] = {
        "part": one.group.part,
        "side": one.group.side,
        "quantity": one.group.quantity,
        "limit": one.limit,
        "lives": one.lives,
    }
    if not isinstance(one.audit, Audit):
        return {**base, "judged": None, "reason": one.audit.reason}
    return {**base, **audited_record(one.audit)}


def audited_record(audit: Audit) -> dict[str, Any]:
    """How the forecasts of one group held, as JSON."""
    tally = audit.all
    return {
        "judged": tally.judged,
        "held": tally.held,
        "replaced_before_judgement": audit.replaced_early,
        "no_forecast": audit.no_forecast,
        "median_error_percent": _number(tally.error),
        "ignoring_readings_percent": _number(tally.ignoring),
        "own_line_percent": _number(tally.own_line),
        "reason": None,
        "by_left": [
            {"left": _horizon(audit, i), "judged": t.judged, "held": t.held}
            for i, (_, t) in enumerate(audit.horizons)
        ],
    }


def _number(value: float | Refusal) -> float | None:
    return None if isinstance(value, Refusal) else round(value, 2)
