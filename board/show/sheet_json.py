"""The handover sheet as one JSON document; ``board/JSON.md`` lists its keys."""

from __future__ import annotations

from typing import Any

from board.reckon.asking import Question
from board.reckon.handing_over import Sheet
from board.reckon.margins import WearLine
from board.reckon.summary import LoomLine, Summary
from board.show.as_json import board_document
from board.show.problems import complaint_record
from board.show.records import iso
from board.show.sheet_questions import question_words
from grammar.entries import Shift

Record = dict[str, Any]


def handover_document(sheet: Sheet) -> Record:
    """The whole sheet.

    Times are ISO 8601 with the shed's offset. ``from_shift`` and ``to_shift`` hold ``name`` and
    ``day``; everything else below is a list of records.

    - ``isolations``: ``loom by text since seen_this_shift seen_by seen conflict``, one a lock;
      ``may_be_isolation``: ``path line text when still_to_come day shift by gone_since
      looms``;
      ``locks_removed_for_others``: ``loom by owner when``
    - ``conflicts``: ``loom since by locks``
    - ``down``, ``waiting``, ``laid_up``, ``running_with_faults``: ``loom motion since stopped_for
      by isolation faults``
    - ``worn``, ``passing_limit``, ``near_limit``: the board's wear record with its ``loom``
    - ``half_done``: the board's missing proof with its ``loom``
    - ``actions``: the board's action with ``pressing``, how it stands to the coming shift
    - ``changed``: ``when loom what text by``, since ``changed_since``; ``notes``: ``when place text
      by``
    - ``not_understood``: complaints since then as ``check`` gives them; ``older_not_understood``
      counts the rest; ``unfinished``: ``path line text``; ``not_read``: sentences
    - ``questions``: ``about words looms what by to taken_by when message path line``
    - ``handover``: ``what by to said taken taken_by of_this_change``
    """
    board = board_document(sheet.summary, sheet.since)
    looms = {record["loom"]: record for record in board["looms"]}
    summary = sheet.summary
    return {
        "as_of": board["as_of"],
        "from_shift": _shift(sheet.outgoing.shift),
        "to_shift": _shift(sheet.incoming.shift),
        "counts": board["counts"],
        "read": board["read"],
        "isolations": [
            {"loom": name, **lock, "conflict": record["isolation"]["conflict_since"] is not None}
            for name, record in looms.items()
            for lock in record["isolation"]["locks"]
        ],
        "may_be_isolation": board["may_be_isolation"],
        "locks_removed_for_others": [
            {
                "loom": x.loom,
                "by": x.removal.by,
                "owner": x.removal.owner,
                "when": iso(summary, x.removal.when),
            }
            for x in sheet.removed
        ],
        "conflicts": [
            {
                "loom": line.loom,
                "since": iso(summary, line.state.conflict_since),
                "by": line.state.motion_by,
                "locks": [lock.by for lock in line.state.locks],
            }
            for line in sheet.conflicts
        ],
        "down": _looms(looms, sheet.down),
        "waiting": _looms(looms, sheet.waiting),
        "laid_up": _looms(looms, sheet.laid_up),
        "running_with_faults": _looms(looms, sheet.running_with_faults),
        "worn": _wear(summary, looms, sheet.worn),
        "passing_limit": _wear(summary, looms, sheet.passing),
        "near_limit": _wear(summary, looms, sheet.near),
        "half_done": [
            {"loom": name, **proof}
            for name, record in looms.items()
            for proof in record["proofs_missing"]
        ],
        "actions": _actions(sheet, board),
        "changed_since": board["changed_since"],
        "changed": board["changed"],
        "notes": [
            {"when": iso(summary, n.when), "place": n.place, "text": n.text, "by": n.by}
            for n in sheet.notes
        ],
        "not_understood": [complaint_record(complaint) for complaint in sheet.unread],
        "older_not_understood": sheet.older_unread,
        "unfinished": board["unfinished"],
        "not_read": board["read"]["not_read"],
        "questions": [_question(sheet, question) for question in sheet.questions],
        "handover": [
            {**record, "of_this_change": any(h.what == record["what"] for h in sheet.handovers)}
            for record in board["handovers"]
        ],
    }


def _shift(shift: Shift) -> Record:
    return {"name": shift.name, "day": shift.day.isoformat()}


def _looms(records: dict[str, Record], lines: tuple[LoomLine, ...]) -> list[Record]:
    return [
        {
            "loom": line.loom,
            "motion": records[line.loom]["motion"],
            "since": records[line.loom]["motion_since"],
            "stopped_for": records[line.loom]["stopped_for"],
            "by": line.state.motion_by,
            "isolation": records[line.loom]["isolation"]["state"],
            "faults": records[line.loom]["faults"],
        }
        for line in lines
    ]


def _wear(
    summary: Summary, records: dict[str, Record], lines: tuple[WearLine, ...]
) -> list[Record]:
    """The board's records of these lines; those of a loom stand in the order of its lines."""
    of = {
        id(wear): {"loom": loom.loom, **record}
        for loom in summary.looms
        for wear, record in zip(loom.wear, records[loom.loom]["wear"], strict=True)
    }
    return [of[id(wear)] for wear in lines]


def _actions(sheet: Sheet, board: Record) -> list[Record]:
    """The board's records in the sheet's order; those of looms stand in the order of the looms."""
    records = list(board["shed"]["actions"])
    lines = list(sheet.summary.shed_actions)
    for loom, record in zip(sheet.summary.looms, board["looms"], strict=True):
        lines += loom.actions
        records += record["actions"]
    of = {id(line): record for line, record in zip(lines, records, strict=True)}
    return [{**of[id(x.line)], "pressing": x.pressing.value} for x in sheet.actions]


def _question(sheet: Sheet, question: Question) -> Record:
    return {
        "about": question.about.value,
        "words": question_words(sheet, question),
        "looms": [{"loom": x.loom, "detail": x.detail} for x in question.looms],
        "what": question.what,
        "by": question.by,
        "to": question.to,
        "taken_by": question.taken_by,
        "when": iso(sheet.summary, question.when),
        "message": question.message,
        "path": question.path or None,
        "line": question.line or None,
    }
