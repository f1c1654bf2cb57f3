"""The colours of a log as a syntax file for vim.

A time leads to its place, a place to the first clause, a semicolon to the next; a clause is a
region from its key phrase to the next semicolon. Of several that match at one place vim takes the
one that was defined last, so the clause of a reading comes first and long phrases last.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from grammar.highlighting import DATE_FORM, NUMBER_FORM, TIME_FORMS, Colours, Form, Meaning

# The customary groups of vim, so that every colour scheme has a colour for them.
LINKS: Mapping[Meaning, str] = {
    Meaning.COMMENT: "Comment",
    Meaning.DAY: "Statement",
    Meaning.DATE: "Constant",
    Meaning.SHIFT: "Type",
    Meaning.TIME: "Constant",
    Meaning.PLACE: "Identifier",
    Meaning.KEY: "Statement",
    Meaning.ISOLATION: "WarningMsg",
    Meaning.WORD: "Special",
    Meaning.AMOUNT: "Number",
    Meaning.NUMBER: "Number",
    Meaning.NAME: "Type",
    Meaning.NOTE: "String",
}

_HEAD = """\
" Colours for the logs of loomslate. Made by python -m grammar.highlighting
" Copy it to ~/.vim/syntax and say :set syntax=loomslate
if exists("b:current_syntax")
  finish
endif
scriptencoding utf-8
syntax case ignore
"""

_ENDS = r"%([.,:]*%(\s|;|$))@="
_TO_NEXT = r"\v;@=|$"
_CLAUSE = "contained oneline keepend"
_VALUES = "@loomslateValues"


def group(meaning: Meaning) -> str:
    """The group of a meaning."""
    return f"loomslate{meaning.value.capitalize()}"


def vim(colours: Colours) -> str:
    """The whole syntax file."""
    rows = [
        *_line(colours),
        *_values(colours),
        _region("Measured", start=r"\v[^[:space:];]@=", inside=_word("Measured", colours.measured)),
    ]
    rows.append(_words("Measured", Meaning.WORD, colours.measured.words))
    if colours.fillers:
        pattern = _slashed(rf"\v{_any(colours.fillers)}\s@=")
        rows += [
            f"syntax match loomslateFiller /{pattern}/ contained skipwhite"
            " nextgroup=@loomslateClause",
            "syntax cluster loomslateClause add=loomslateFiller",
        ]
    for form in colours.forms:
        rows += _clause(form)
    rows += _note(colours)
    rows += [f"highlight default link {group(m)} {linked}" for m, linked in LINKS.items()]
    return _HEAD + "\n".join(rows) + '\nlet b:current_syntax = "loomslate"\n'


def _escaped(text: str) -> str:
    """Text for a very magic expression: every ASCII sign may mean something in it."""
    return re.sub(r"[^\w\s]", lambda m: f"\\{m[0]}" if m[0].isascii() else m[0], text)


def _any(words: Iterable[str]) -> str:
    found = "|".join(r"\s+".join(map(_escaped, word.split())) for word in words)
    return f"%({found})" if found else "$^"


def _match(meaning: Meaning, pattern: str, more: str = "") -> str:
    return f"syntax match {group(meaning)} /{_slashed(pattern)}/ {more}".rstrip()


def _slashed(pattern: str) -> str:
    return re.sub(r"(?<!\\)/", r"\/", pattern)


def _time() -> str:
    return "%(" + "|".join(_form(form) for form in TIME_FORMS) + ")"


def _form(form: str) -> str:
    """A form in the common subset, very magic: counts in one brace, groups that keep nothing."""
    return form.replace("(", "%(").replace(")?", ")=").replace(":?", ":=").replace("]?", "]=")


def _line(colours: Colours) -> list[str]:
    shift = _any(colours.shifts) if colours.shifts else "[^[:space:];]+"
    chain = "contained skipwhite"
    by = _slashed(rf"\v{_any(colours.by)}{_ENDS}")
    return [
        _match(
            Meaning.DAY,
            rf"\v^\s*{_any(colours.day)}{_ENDS}",
            f"nextgroup={group(Meaning.DATE)} skipwhite",
        ),
        _match(Meaning.DATE, rf"\v{DATE_FORM}", f"{chain} nextgroup={group(Meaning.SHIFT)}"),
        _match(Meaning.SHIFT, rf"\v{shift}", f"{chain} nextgroup=loomslateBywhom"),
        f"syntax match loomslateBywhom /{by}/ contained",
        f"highlight default link loomslateBywhom {LINKS[Meaning.WORD]}",
        _match(
            Meaning.TIME,
            rf"\v^\s*{_time()}%([.,]=\s)@=",
            f"nextgroup={group(Meaning.PLACE)},loomslateMark skipwhite",
        ),
        "syntax match loomslateMark /[.,]/ contained skipwhite nextgroup=" + group(Meaning.PLACE),
        _match(
            Meaning.PLACE,
            r"\v[^[:space:];]+",
            f"{chain} nextgroup=loomslateParted,@loomslateClause",
        ),
        _match(Meaning.COMMENT, "^#.*$"),
        r"syntax match loomslateParted /;[; \t]*/ contained nextgroup=@loomslateClause",
    ]


def _values(colours: Colours) -> list[str]:
    units = _any(sorted(colours.units, key=lambda unit: (-len(unit), unit)))
    number = _form(NUMBER_FORM)
    amount = rf"\v%([0-9A-Za-z_.,-])@1<!{number}\s*{units}%([0-9A-Za-z_/°]|[.·⋅][0-9A-Za-z_])@!"
    rows = [
        _match(Meaning.AMOUNT, amount, "contained"),
        f"syntax cluster loomslateValues contains={group(Meaning.AMOUNT)}",
    ]
    if colours.names:
        rows += [
            _match(Meaning.NAME, rf"\v\k@1<!{_any(colours.names)}\k@!", "contained"),
            f"syntax cluster loomslateValues add={group(Meaning.NAME)}",
        ]
    return rows


def _region(name: str, *, start: str, inside: str, key: str = "", end: str = _TO_NEXT) -> str:
    colour = f"matchgroup={key} " if key else ""
    return (
        f"syntax region loomslate{name.capitalize()}Clause {colour}start=/{_slashed(start)}/"
        f" matchgroup=NONE end=/{end}/ {_CLAUSE} contains={inside} nextgroup=loomslateParted"
        f"\nsyntax cluster loomslateClause add=loomslate{name.capitalize()}Clause"
    )


def _word(name: str, form: Form) -> str:
    inside = [_VALUES]
    if form.words:
        inside.append(f"loomslate{name.capitalize()}Word")
    if form.times:
        inside.append(f"loomslate{name.capitalize()}Time")
    if form.numbered:
        inside.append(f"loomslate{name.capitalize()}No")
    return ",".join(inside)


def _words(name: str, meaning: Meaning, words: Iterable[str]) -> str:
    own = f"loomslate{name.capitalize()}{meaning.value.capitalize()}"
    pattern = _slashed(rf"\v%(\k|-)@1<!{_any(words)}{_ENDS}")
    return (
        f"syntax match {own} /{pattern}/ contained\nhighlight default link {own} {LINKS[meaning]}"
    )


def _clause(form: Form) -> list[str]:
    rows = [
        _region(
            form.name,
            start=rf"\v{_any(form.heads)}{_ENDS}",
            inside=_word(form.name, form),
            key=group(form.meaning),
        )
    ]
    if form.words:
        rows.append(_words(form.name, Meaning.WORD, form.words))
    own = f"loomslate{form.name.capitalize()}"
    if form.times:
        times = rf"%({DATE_FORM}\s+[0-9]{{1,2}}:=[0-9]{{2}}|{_time()}|{DATE_FORM})"
        pattern = rf"\v[0-9A-Za-z_:-]@1<!{times}[0-9A-Za-z_:-]@!"
        rows += [
            f"syntax match {own}Time /{pattern}/ contained",
            f"highlight default link {own}Time {LINKS[Meaning.TIME]}",
        ]
    if form.numbered:
        pattern = rf"\v%(\k|-)@1<!{_any(form.numbered)}\.=\s*[0-9]{{1,9}}\k@!"
        rows += [
            f"syntax match {own}No /{pattern}/ contained contains={own}Number",
            rf"syntax match {own}Number /[0-9]\+/ contained",
            f"highlight default link {own}No {LINKS[Meaning.WORD]}",
            f"highlight default link {own}Number {LINKS[Meaning.NUMBER]}",
        ]
    return rows


def _note(colours: Colours) -> list[str]:
    by = _any(colours.by)
    end = rf"\v%(;\s*{by}[,:]=\s+[^[:space:];]+\s*;=\s*$)@=|$"
    start = _slashed(rf"\v{_any(colours.note)}{_ENDS}")
    own = group(Meaning.NOTE)
    return [
        f"syntax region {own} matchgroup={group(Meaning.KEY)} start=/{start}/ matchgroup=NONE"
        f" end=/{_slashed(end)}/ {_CLAUSE} nextgroup=loomslateParted",
        f"syntax cluster loomslateClause add={own}",
    ]
