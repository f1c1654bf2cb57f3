"""What a reading or a job speaks of: the part, its side and number, the quantity and how much.

Asks the register's words and refuses what the register does not know. The same words come again
and again in a log, so what they mean is remembered.
"""

from __future__ import annotations

import re
from dataclasses import field
from typing import assert_never

from lark import Token

from grammar.diagnostics import Code, LineRefused
from grammar.entries import Amount, PartAt, Span, Verb
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.line import Line, remember
from grammar.phrases import VERBS, key_word, names_by_word, spellings
from grammar.sense import no_such_quantity, wrong_side
from grammar.units import (
    NUMBER_PATTERN,
    UNIT_PATTERN,
    UNITS,
    Kind,
    NumberFault,
    Unit,
    read_number,
    unit_of,
)
from grammar.vocabulary import PartWords, QuantityWords, Vocabulary

_AMOUNT = re.compile(rf"({NUMBER_PATTERN})\s*({UNIT_PATTERN})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurable:
    """A quantity of a part at its place, as the words of a reading named it."""

    at: PartAt
    quantity: QuantityWords
    unit: Unit
    what: str
    amounts: dict[str, Amount] = field(compare=False, repr=False)  # as written -> what it means


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The verb and the part of a job."""

    verb: Verb | None  # None: moved
    at: PartAt


class Parts:
    """Reads what is said of parts, in the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._verbs = {word: Verb(v) for word, v in names_by_word(vocabulary, VERBS).items()}
        fillers = f"(?:{key_word(map(fold_word, vocabulary.fillers))})*"
        verbs = (*self._verbs, *spellings(vocabulary, ("moved",)))
        closing = (*spellings(vocabulary, ("gauge",)), *spellings(vocabulary, ("from",)))
        self._words = re.compile(
            f"{fillers}(?:{key_word(verbs, 'verb')}{fillers})?"
            f"(?:{key_word(vocabulary.side_by_word, 'side')})?"
            f"{key_word(vocabulary.part_by_word, 'part')}"
            r"(?:(?P<number>[0-9]{1,4})[,:.]?\s*)?"
            f"(?:{key_word(vocabulary.quantity_words, 'quantity')})?"
            f"(?:{key_word(closing)})?"
        )
        self._measurables: dict[str, Measurable] = {}
        self._jobs: dict[str, Job] = {}
        self._torques: dict[str, Amount] = {}
        self._amounts: dict[tuple[str, str], dict[str, Amount]] = {}

    def measurable(self, line: Line, token: Token) -> Measurable:
        """What a reading speaks of. Raises LineRefused."""
        known = self._measurables.get(token.value)
        if known is not None:
            return known
        found = self._match(token)
        part, at = self._part(line, token, found)
        quantity = self._quantity(line, token, found, part)
        amounts = self._amounts.setdefault((part.name, quantity.name), {})
        said = Measurable(
            at=at,
            quantity=quantity,
            unit=UNITS[quantity.unit],
            what=f"{part.name} {quantity.name}",
            amounts=amounts,
        )
        return remember(self._measurables, token.value, said)

    def job(self, line: Line, token: Token) -> Job:
        """What was worked on, and how. Raises LineRefused."""
        known = self._jobs.get(token.value)
        if known is not None:
            return known
        found = self._match(token)
        _, at = self._part(line, token, found)
        job = Job(verb=self._verbs.get(_single(found["verb"])), at=at)
        return remember(self._jobs, token.value, job)

    def _match(self, token: Token) -> re.Match[str]:
        found = self._words.fullmatch(token.value)
        assert found is not None, "the terminal and this pattern are made of the same words"
        return found

    def _part(self, line: Line, token: Token, found: re.Match[str]) -> tuple[PartWords, PartAt]:
        part = self._vocabulary.part_by_word[_single(found["part"])]
        side = self._vocabulary.side_by_word[_single(found["side"])] if found["side"] else None
        fault = wrong_side(part, side)
        if fault:
            message, help = fault
            where = line.stretch(token, *found.span("side" if side else "part"))
            raise line.refused(Code.UNKNOWN_SIDE, message, where, help=help)
        number = int(found["number"]) if found["number"] else None
        return part, PartAt(part=part.name, side=side, number=number)

    def _quantity(
        self, line: Line, token: Token, found: re.Match[str], part: PartWords
    ) -> QuantityWords:
        word = found["quantity"]
        if word is None and len(part.quantities) == 1:
            return part.quantities[0]
        if word is not None:
            names = self._vocabulary.quantity_words[_single(word)]
            for quantity in part.quantities:
                if quantity.name in names:
                    return quantity
        where = line.stretch(token, *found.span("quantity" if word else "part"))
        written = line.folded.line[where.start : where.end] if word else None
        message, help = no_such_quantity(part, written)
        raise line.refused(Code.NOT_UNDERSTOOD, message, where, help=help)

    # -- amounts ---------------------------------------------------------------------------

    def reading(self, line: Line, said: Measurable, token: Token) -> Amount:
        """How much a reading gives; flagged where it is not to be believed. Raises LineRefused."""
        written = line.written(token)
        known = said.amounts.get(written)
        if known is not None:
            return known
        amount = _amount(line, token, said.unit, said.what, said.quantity.plausible)
        if amount.implausible:
            number = _AMOUNT.match(token.value)
            assert number is not None
            line.flags.append(
                line.complaint(
                    Code.IMPLAUSIBLE,
                    f"{amount.written} lies outside the plausible {amount.implausible}",
                    line.stretch(token, 0, number.end()),
                    help="measure again; until confirmed it stays out of margins and forecasts",
                )
            )
            return amount
        return remember(said.amounts, written, amount)

    def torque(self, line: Line, token: Token) -> Amount:
        """A torque. Raises LineRefused."""
        written = line.written(token)
        known = self._torques.get(written)
        if known is not None:
            return known
        return remember(self._torques, written, _amount(line, token, UNITS["N.m"], "a torque"))

    def use(self, line: Line, token: Token, what: str) -> Amount:
        """A loom's use, in hours or picks. Raises LineRefused."""
        picks = token.value.rstrip().rstrip(".,").endswith("picks")
        amount = _amount(line, token, UNITS["picks" if picks else "h"], what)
        if amount.value < 0:
            raise line.refused(
                Code.NOT_UNDERSTOOD, f"{what} is never below zero", token, help="look again"
            )
        return amount


def _amount(
    line: Line,
    token: Token,
    target: Unit,
    what: str,
    plausible: tuple[float, float] | None = None,
) -> Amount:
    """The amount that a token begins with, in the target's unit. Raises LineRefused."""
    found = _AMOUNT.match(token.value)
    assert found is not None, token
    number = found[1]
    source = unit_of(found[2])
    assert source is not None, found[2]
    if source.kind is not target.kind:
        raise line.refused(
            Code.WRONG_UNIT,
            f"{source.symbol} measures {source.kind.value}, and {what} is written in"
            f" {_units_of(target)}",
            line.stretch(token, *found.span(2)),
            help=f"write a unit of {target.kind.value} like {target.symbol}",
        )
    value = read_number(number, source=source, target=target, plausible=plausible)
    if not isinstance(value, float):
        raise _no_number(line, value, number, line.stretch(token, *found.span(1)))
    outside = ""
    if plausible is not None and not plausible[0] <= value <= plausible[1]:
        outside = f"{plausible[0]:g} to {plausible[1]:g} {target.symbol}"
    span = line.stretch(token, 0, found.end())
    written = line.folded.line[span.start : span.end]
    return Amount(value=value, unit=target.symbol, written=written, implausible=outside)


def _no_number(line: Line, fault: NumberFault, number: str, where: Span) -> LineRefused:
    match fault:
        case NumberFault.NO_NUMBER:
            return line.refused(
                Code.NOT_UNDERSTOOD,
                f"{number} is no number",
                where,
                help="use one decimal mark and no grouping marks, like 2.35 or 18250,5",
            )
        case NumberFault.AMBIGUOUS:
            plain = number.replace(",", "").replace(".", "")
            return line.refused(
                Code.NUMBER_AMBIGUOUS,
                f"{number} may be {number.replace(',', '.')} or {plain}",
                where,
                help=f"write {plain} or {number}0",
            )
        case _:
            assert_never(fault)


def _units_of(target: Unit) -> str:
    return "h or picks" if target.kind is Kind.TIME else target.symbol


def _single(words: str) -> str:
    return " ".join(words.split())
