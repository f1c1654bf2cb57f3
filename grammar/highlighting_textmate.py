"""The colours of a log as a TextMate grammar, which many editors read.

An entry is a region from its time to the end of the line; in it each clause is a region from its
key phrase to the next semicolon. What begins with no key phrase is a region too, so that a word in
the middle of a text is never taken for the beginning of a clause. The scopes are the customary
ones, so that every theme has a colour for them. Expressions keep to what Python's own know.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from grammar.highlighting import DATE_FORM, NUMBER_FORM, TIME_FORMS, Colours, Form, Meaning

Rule = dict[str, Any]

SCOPES: Mapping[Meaning, str] = {
    Meaning.COMMENT: "comment.line.number-sign.loomslate",
    Meaning.DAY: "keyword.other.day.loomslate",
    Meaning.DATE: "constant.other.date.loomslate",
    Meaning.SHIFT: "entity.name.section.shift.loomslate",
    Meaning.TIME: "constant.other.time.loomslate",
    Meaning.PLACE: "entity.name.tag.place.loomslate",
    Meaning.KEY: "keyword.control.clause.loomslate",
    Meaning.ISOLATION: "keyword.control.isolation.loomslate",
    Meaning.WORD: "keyword.other.word.loomslate",
    Meaning.AMOUNT: "constant.numeric.amount.loomslate",
    Meaning.NUMBER: "constant.numeric.action.loomslate",
    Meaning.NAME: "variable.parameter.name.loomslate",
    Meaning.NOTE: "string.unquoted.note.loomslate",
}

_ENDS = r"(?=[.,:]*(?:[\s;]|$))"  # what may stand right behind a key word
_TO_NEXT = r"(?=;)|$"


def textmate(colours: Colours) -> str:
    """The whole grammar as JSON."""
    document = {
        "name": "loomslate log",
        "scopeName": "text.loomslate",
        "fileTypes": [],
        "comment": "Made by python -m grammar.highlighting",
        "patterns": [
            {"match": r"^#.*$", "name": SCOPES[Meaning.COMMENT]},
            _heading(colours),
            _entry(),
        ],
        "repository": {
            "values": {"patterns": _values(colours)},
            "clauses": {"patterns": _clauses(colours)},
        },
    }
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _any(words: Iterable[str]) -> str:
    return "|".join(r"\s+".join(map(re.escape, word.split())) for word in words) or "(?!)"


def _key(words: Iterable[str]) -> str:
    return f"(?i)({_any(words)}){_ENDS}"


def _captures(*meanings: Meaning) -> Rule:
    return {str(n): {"name": SCOPES[meaning]} for n, meaning in enumerate(meanings, start=1)}


def _heading(colours: Colours) -> Rule:
    shift = f"(?:{_any(colours.shifts)})" if colours.shifts else r"[^\s;]+"
    return {
        "match": rf"(?i)^\s*({_any(colours.day)})[.,:]*\s+({DATE_FORM})"
        rf"(?:[.,]?\s+({shift}))?(?:[.,:]*\s+({_any(colours.by)})\s.*)?$",
        "captures": _captures(Meaning.DAY, Meaning.DATE, Meaning.SHIFT, Meaning.WORD),
    }


def _entry() -> Rule:
    return {
        "begin": rf"(?i)^\s*({_time()})[.,]?\s+([^\s;]+)",
        "end": "$",
        "beginCaptures": _captures(Meaning.TIME, Meaning.PLACE),
        "patterns": [{"include": "#clauses"}],
    }


def _time() -> str:
    return "|".join(form.replace("(", "(?:") for form in TIME_FORMS)


def _clauses(colours: Colours) -> list[Rule]:
    rules = [_clause(form) for form in sorted(colours.forms, key=_most_words, reverse=True)]
    by = _any(colours.by)
    note: Rule = {
        "begin": _key(colours.note),
        "end": rf"(?i)(?=;\s*(?:{by})[,:]?\s+[^\s;]+\s*;?\s*$)|$",
        "beginCaptures": _captures(Meaning.KEY),
        "contentName": SCOPES[Meaning.NOTE],
    }
    measured: Rule = {
        "begin": r"(?=[^\s;])",
        "end": _TO_NEXT,
        "patterns": [_word(colours.measured.words), {"include": "#values"}],
    }
    fillers = [{"match": rf"(?i)(?:{_any(colours.fillers)})(?=\s)"}] if colours.fillers else []
    return [note, *rules, *fillers, measured]


def _most_words(form: Form) -> int:
    return max(len(head.split()) for head in form.heads)


def _clause(form: Form) -> Rule:
    inside: list[Rule] = []
    if form.numbered:
        inside.append(
            {
                "match": rf"(?i)(?<![\w-])((?:{_any(form.numbered)})\.?)\s*([0-9]{{1,9}})(?!\w)",
                "captures": _captures(Meaning.WORD, Meaning.NUMBER),
            }
        )
    if form.times:
        times = rf"{DATE_FORM}\s+[0-9]{{1,2}}:?[0-9]{{2}}|{_time()}|{DATE_FORM}"
        match = rf"(?i)(?<![\w:-])(?:{times})(?![\w:-])"
        inside.append({"match": match, "name": SCOPES[Meaning.TIME]})
    if form.words:
        inside.append(_word(form.words))
    return {
        "begin": _key(form.heads),
        "end": _TO_NEXT,
        "beginCaptures": _captures(form.meaning),
        "patterns": [*inside, {"include": "#values"}],
    }


def _word(words: Iterable[str]) -> Rule:
    return {
        "match": rf"(?i)(?<![\w-])(?:{_any(words)}){_ENDS}",
        "name": SCOPES[Meaning.WORD],
    }


def _values(colours: Colours) -> list[Rule]:
    units = _any(sorted(colours.units, key=lambda unit: (-len(unit), unit)))
    amount = rf"(?i)(?<![\w.,-]){NUMBER_FORM}\s*(?:{units})(?![\w/°]|[.·⋅]\w)"
    rules = [{"match": amount, "name": SCOPES[Meaning.AMOUNT]}]
    if colours.names:
        match = rf"(?i)(?<!\w)(?:{_any(colours.names)})(?!\w)"
        rules.append({"match": match, "name": SCOPES[Meaning.NAME]})
    return rules
