"""What is wrong with a number where one with its unit should stand."""

from __future__ import annotations

import re

from grammar.diagnostics import Code, Diagnostic
from grammar.line import Line
from grammar.nearest import nearest
from grammar.units import ALL_UNITS, NUMBER_PATTERN, UNIT_PATTERN

_BEFORE = r"(?<![^\s;(=])"
AMOUNT = re.compile(rf"{_BEFORE}{NUMBER_PATTERN}\s*{UNIT_PATTERN}")
_NUMBER = re.compile(rf"{_BEFORE}{NUMBER_PATTERN}")
_UNIT = re.compile(rf"\s*{UNIT_PATTERN}")
_NO_DIGIT_FIRST = re.compile(rf"{_BEFORE}[-+]?[.,][0-9]+")
_GROUPED = re.compile(rf"{_BEFORE}-?[0-9]{{1,3}}(?:[\s'’_][0-9]{{3}})+(?![\w.,])")
_WORD = re.compile(r"\s*([^\s;]+)")


def number_fault(
    line: Line, stretch: tuple[int, int], unit: str, closing: frozenset[str]
) -> Diagnostic | None:
    """Why a stretch of the folded line holds no number with its unit, or None where it does.

    ``unit`` is the one to suggest ("" where none is), ``closing`` the words that may follow a
    number with its unit.
    """
    text = line.folded.text
    grouped = _GROUPED.search(text, *stretch)
    if grouped is not None:
        written = line.folded.cut(*grouped.span())
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            "numbers are written without blanks or grouping marks",
            line.at(*grouped.span()),
            help=f"write {re.sub('[^0-9-]', '', written)}",
        )
    if AMOUNT.search(text, *stretch):
        return None
    begun = _NO_DIGIT_FIRST.search(text, *stretch)
    numbers = list(_NUMBER.finditer(text, *stretch))
    if begun is not None and not numbers:
        return line.complaint(
            Code.NOT_UNDERSTOOD,
            "a number begins with a digit",
            line.at(*begun.span()),
            help=f"write 0{begun[0].lstrip('+-')}",
        )
    if not numbers:
        return None
    number = numbers[-1]
    written = line.folded.cut(*number.span())
    example = f"write {written} {unit}" if unit else "write its unit behind it, like 0.80 N.m"
    rest = _WORD.match(text, number.end(), stretch[1])
    if rest is None or rest[1].rstrip(".,:") in closing:
        message = f"{written} stands without its unit"
        return line.complaint(Code.UNIT_MISSING, message, line.at(*number.span()), help=example)
    near = nearest(rest[1].rstrip(".,:"), ALL_UNITS)
    return line.complaint(
        Code.UNIT_MISSING,
        f"{line.folded.cut(*rest.span(1))} is no unit of the language",
        line.at(*rest.span(1)),
        help=f"did you mean {near}?" if near else f"write a unit like {unit or 'mm'}",
    )
