"""What a register asks for after a part is replaced: torque, other proofs, a recheck.

A proof or a due that no line of a log could hold is refused, in the words of the mill.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from board.mill import After, Tolerance, TorqueProof
from board.record.register_fields import (
    Table,
    Unreadable,
    amount_number,
    read_amount,
    shortened,
)
from board.record.register_parts import known_unit
from grammar import times
from grammar.folding import fold_word
from grammar.nearest import did_you_mean
from grammar.phrases import spellings
from grammar.units import Kind, Unit, convert, split_amount, unit_of
from grammar.vocabulary import Vocabulary


def read_after(table: Table, vocabulary: Vocabulary) -> After:
    """The proofs and the recheck asked for after a part is replaced."""
    table.only("torque", "needs", "recheck")
    return After(
        torque=_torque(table.table("torque")) if "torque" in table else None,
        needs=_needs(table, vocabulary),
        recheck=_recheck(table, vocabulary),
    )


def _torque(table: Table) -> TorqueProof:
    table.only("value", "tolerance", "unit", "tool_tolerance")
    value = table.above_zero("value")
    if value is None:
        raise table.missing("value", "write the torque to tighten to")
    written = table.text("unit")
    if written is None:
        raise table.missing("unit", 'write the unit of the torque, like unit = "N.m"')
    unit = known_unit(table, "unit", written)
    if unit.kind is not Kind.TORQUE:
        raise table.refuse("unit", f"{unit.symbol} is a unit of {unit.kind.value}, not of torque")
    tolerance = _tolerance(table, "tolerance", unit, value)
    if tolerance is None:
        raise table.missing("tolerance", 'write how far off it may be, like tolerance = "6 %"')
    return TorqueProof(
        value=value,
        unit=unit.symbol,
        tolerance=tolerance,
        tool_tolerance=_tolerance(table, "tool_tolerance", unit, value),
    )


def _tolerance(table: Table, key: str, unit: Unit, around: float) -> Tolerance | None:
    written = table.text(key)
    if written is None:
        return None
    example = f'write it like "6 %" or "0.05 {unit.symbol}"'
    try:
        read = amount_number(*split_amount(fold_word(written)))
    except ValueError:
        raise table.refuse(
            key, f'"{shortened(written)}" is no number with its unit; {example}'
        ) from None
    if isinstance(read, Unreadable):
        raise table.refuse(key, f"{read.message}; {example}")
    amount, own = read[0], known_unit(table, key, read[1])
    if own.kind is Kind.SHARE:
        if amount >= 100:
            raise table.refuse(key, f"{amount:g} % of the torque is no tolerance; {example}")
        return Tolerance(share=amount / 100)
    if own.kind is not unit.kind:
        raise table.refuse(
            key, f"{own.symbol} is a unit of {own.kind.value}, not of torque; {example}"
        )
    absolute = convert(amount, own, unit)
    if absolute >= around:
        raise table.refuse(key, f"{shortened(written)} is as large as the torque itself")
    return Tolerance(absolute=absolute)


def _needs(table: Table, vocabulary: Vocabulary) -> tuple[str, ...]:
    found: list[str] = []
    for index, written in enumerate(table.texts("needs")):
        proof = _proof(written, vocabulary)
        if isinstance(proof, Unreadable):
            raise table.refuse_element("needs", index, proof.message)
        if fold_word(proof) in map(fold_word, found):
            raise table.refuse_element("needs", index, f"{proof} stands here twice")
        found.append(proof)
    return tuple(found)


def _proof(written: str, vocabulary: Vocabulary) -> str | Unreadable:
    """The proof that a line could give, in the language's own key words."""
    single = " ".join(written.split())
    folded = fold_word(single)
    if folded in spellings(vocabulary, ("thread-locked",)):
        return "thread-locked"
    text = _behind(single, spellings(vocabulary, ("checked",)))
    if text is None:
        near = did_you_mean(single.split()[0], ("thread-locked", "checked"))
        if folded.split()[0] in spellings(vocabulary, ("torque",)):
            return Unreadable("a torque is asked for by a table: torque = { value = ... }")
        hint = f"; {near}" if near else ""
        return Unreadable(
            f'no line could prove "{shortened(single)}"; '
            f"expected thread-locked or checked TEXT, like checked joint{hint}"
        )
    if not text:
        return Unreadable("checked what? write it like checked joint")
    if ";" in text:
        return Unreadable("a semicolon parts clauses; write each proof by itself")
    verdicts = (*spellings(vocabulary, ("ok",)), *spellings(vocabulary, ("bad",)))
    if fold_word(text).split()[-1] in verdicts:
        return Unreadable("leave the verdict out; the line gives it")
    return f"checked {text}"


def _behind(text: str, heads: tuple[str, ...]) -> str | None:
    """What stands behind one of the key phrases, as written, or None."""
    words = text.split(" ")
    for head in sorted(heads, key=len, reverse=True):
        count = len(head.split())
        if fold_word(" ".join(words[:count])) == head:
            return " ".join(words[count:])
    return None


def _recheck(table: Table, vocabulary: Vocabulary) -> str | None:
    written = table.text("recheck")
    if written is None:
        return None
    single = " ".join(written.split())
    for read in (_before_start, _shift, _clock, _in_use):
        due = read(single, vocabulary)
        if isinstance(due, str):
            return due
        if isinstance(due, Unreadable):
            raise table.refuse("recheck", due.message)
    if re.match("[0-9]{4}-[0-9]{2}-[0-9]{2}", single):
        raise table.refuse("recheck", "a fixed date cannot follow every replacement")
    raise table.refuse(
        "recheck",
        f'"{shortened(single)}" is no due; expected one like in 24 h, before start, 06:00 '
        "or a shift",
    )


_Due = Callable[[str, Vocabulary], str | Unreadable | None]


def _before_start(text: str, vocabulary: Vocabulary) -> str | Unreadable | None:
    known = spellings(vocabulary, ("before start",))
    return "before start" if fold_word(text) in known else None


def _shift(text: str, vocabulary: Vocabulary) -> str | Unreadable | None:
    shift = vocabulary.shift_by_word.get(fold_word(text))
    return shift.name if shift else None


def _clock(text: str, vocabulary: Vocabulary) -> str | Unreadable | None:
    try:
        return f"{times.read_clock(fold_word(text)):%H:%M}"
    except times.NoTime:
        return None


def _in_use(text: str, vocabulary: Vocabulary) -> str | Unreadable | None:
    use = _behind(text, spellings(vocabulary, ("in",)))
    if use is None:
        return None
    read = read_amount(use)
    if isinstance(read, Unreadable):
        return Unreadable(f"{read.message}; write it like in 24 h")
    unit = unit_of(read[1])
    if unit is None or unit.kind not in (Kind.TIME, Kind.PICKS):
        return Unreadable(f'"{shortened(use)}" is no use of a loom; write it in h or picks')
    return f"in {' '.join(use.split())}"
