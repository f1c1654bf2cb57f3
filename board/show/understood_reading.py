"""A reading in words: its value in the unit of its part, how far it is from the limit, what it was.

The words of the margin are the board's own, taken from the line that the reading would be there.
"""

from __future__ import annotations

from board.judging import Judged
from board.reckon.conformity import WearWord
from board.reckon.margins import WearLine, line_of
from board.reckon.which_stands import standing_of
from board.show.measures import like, margin_of
from board.show.moments import clock
from board.state.history import Bound, PartLife, ReadingAt
from grammar.entries import Amount, Gauged, Measured, PartAt
from grammar.folding import fold
from grammar.units import split_amount, unit_of


def reading_words(judged: Judged, loom: str, clause: Measured) -> str:
    """``left tape of A07: 2.35 mm, 0.05 mm beyond the limit of 2.40: PAST LIMIT, replace``."""
    told = f"{_name(judged, loom, clause.at, clause.quantity)}: {shown_amount(clause.amount)}"
    line = _line(judged, loom, clause)
    if line is not None:
        told += f", {_margin(line)}"
    elif clause.amount.implausible:
        told += f", outside the plausible {clause.amount.implausible}: waits for a second reading"
    return told + _before(judged, loom, clause)


def gauge_words(judged: Judged, loom: str, clause: Gauged) -> str:
    """``right guide 3 of A07: gauge 0.30 mm enters, so it is 0.30 mm or more, gauge within``."""
    did = "enters" if clause.enters else "stays out"
    amount = shown_amount(clause.amount)
    told = f"{_name(judged, loom, clause.at, clause.quantity)}: gauge {amount} {did}"
    reading = _own(judged, loom, clause)
    if reading is not None:
        side = "more" if reading.bound is Bound.AT_LEAST else "less"
        told += f", so {clause.quantity} is that or {side}"
    line = _line(judged, loom, clause)
    if line is not None:
        told += f"{_limit(line)}: {line.word.value}{_standing(judged, line)}"
    return told


def shown_amount(amount: Amount) -> str:
    """The value as it will be reckoned with, and as written where that reads otherwise."""
    number, word = split_amount(fold(amount.written).text.strip())
    unit = unit_of(word)
    point = number.replace(",", ".")
    if unit is not None and unit.symbol == amount.unit and float(point) == amount.value:
        return f"{point} {amount.unit}"
    return f"{plain(amount.value)} {amount.unit} (written {amount.written})"


def plain(value: float) -> str:
    """A number without an exponent and without noise in its last digits."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text if text not in ("", "-0") else "0"


def _name(judged: Judged, loom: str, at: PartAt, quantity: str) -> str:
    """The part on its loom, with the quantity where there are several."""
    several = len(judged.mill.part[at.part].quantities) > 1
    return f"{at.words()}{f' {quantity}' if several else ''} of {loom}"


def _margin(line: WearLine) -> str:
    margin = line.margin
    if not isinstance(margin, float) or line.limit is None:
        return line.word.value
    where = "inside" if margin >= 0 else "beyond"
    unit = line.reading.unit
    size = _like(abs(margin), line)
    if float(size) == 0.0:
        size = margin_of(line)
    told = f"{size} {unit} {where} the limit of {_like(line.limit, line)}"
    match line.word:
        case WearWord.PAST_LIMIT:
            return f"{told}: PAST LIMIT, replace"
        case WearWord.AT_LIMIT:
            return f"{told}: AT LIMIT, the tool cannot tell on which side"
        case _:
            return f"{told}: {line.word.value}"


def _limit(line: WearLine) -> str:
    if line.limit is None:
        return ""
    return f", the limit being {_like(line.limit, line)} {line.reading.unit}"


def _like(value: float, line: WearLine) -> str:
    """A number with the decimals of the board, and no fewer than it needs."""
    told = like(value, line)
    needed = min(len(plain(value).partition(".")[2]), 4)
    return f"{value:.{needed}f}" if needed > len(told.partition(".")[2]) else told


def _line(judged: Judged, loom: str, clause: Measured | Gauged) -> WearLine | None:
    """The board's line for this reading alone, or None where it does not count."""
    reading = _own(judged, loom, clause)
    life = judged.after.looms[loom].parts.get(clause.at)
    if reading is None or life is None or not reading.counts:
        return None
    quantity = judged.mill.quantity(clause.at.part, clause.quantity)
    return line_of(loom, life, quantity, reading, judged.mill) if quantity is not None else None


def _standing(judged: Judged, line: WearLine) -> str:
    """What a verdict leaves standing, where that is another reading; else empty."""
    quantity = judged.mill.quantity(line.at.part, line.quantity)
    found = standing_of(line.life, quantity) if quantity is not None else None
    if quantity is None or found is None or found.reading is line.reading:
        return ""
    stands = found.reading
    told = f"{plain(stands.value)} {stands.unit}"
    bound = "" if stands.bound is Bound.EXACT else f"{stands.bound.value} "
    word = line_of(line.loom, line.life, quantity, stands, judged.mill).word.value
    when = clock(stands.when, judged.now, judged.mill.zone)
    return f"; what stands is {bound}{told} of {when}: {word}"


def _own(judged: Judged, loom: str, clause: Measured | Gauged) -> ReadingAt | None:
    """The reading as it joined the series of its part."""
    life: PartLife | None = judged.after.looms[loom].parts.get(clause.at)
    series = life.readings.get(clause.quantity, ()) if life else ()
    for reading in reversed(series):
        if judged.is_own(reading.source) and reading.written == clause.amount.written:
            return reading
    return None


def _before(judged: Judged, loom: str, clause: Measured) -> str:
    """The reading before it on the same level, so that a slip of the finger shows."""
    own = _own(judged, loom, clause)
    life = judged.then.looms[loom].parts.get(clause.at)
    if own is None or life is None or life.level != own.level:
        return ""
    exact = [
        r
        for r in life.readings.get(clause.quantity, ())
        if r.bound is Bound.EXACT and r.level == own.level and r.counts
    ]
    if not exact:
        return ""
    when = clock(exact[-1].when, judged.now, judged.mill.zone)
    return f" (before: {plain(exact[-1].value)} {exact[-1].unit}, {when})"
