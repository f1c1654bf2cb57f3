"""Which of a part's readings stands: its newest value, or what a gauge decided since.

A gauge verdict bounds a value. One that decides, past the limit or within it, is not hidden by a
later one that decides nothing, and a value at or past its limit by none but one that decides. What
a reading that stands says of its limit is left to ``margins``.
"""

from __future__ import annotations

from collections.abc import Sequence

from board.mill import Limits, Quantity
from board.reckon.conformity import WearWord, gauge_word, wear_word
from board.reckon.kinds import Kind
from board.reckon.refusal import Refusal
from board.state.history import Bound, PartLife, ReadingAt
from board.state.kept_readings import Kept
from board.torque import slack
from grammar.frozen import dataclass

_KINDS = {Bound.EXACT: Kind.EXACT, Bound.AT_LEAST: Kind.ABOVE, Bound.AT_MOST: Kind.BELOW}
_AT_OR_PAST = (WearWord.AT_LIMIT, WearWord.PAST_LIMIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The reading that stands, and the gauge verdicts since that leave it standing."""

    reading: ReadingAt
    since: tuple[ReadingAt, ...] = ()


def standing_of(life: PartLife, quantity: Quantity) -> Standing | None:
    """The reading of a part that stands now; where only the last one bears on it, only that."""
    if isinstance(life.readings, Kept):
        last = life.readings.last(quantity.name)
        if last is None:
            return None
        if _is_of(last, life.level) and last.bound is Bound.EXACT:
            return Standing(reading=last)
    return standing(life.readings.get(quantity.name, ()), life.level, quantity)


def standing(series: Sequence[ReadingAt], level: int, quantity: Quantity) -> Standing | None:
    """The reading that stands of those that count on this level.

    Only the newest value and the verdicts after it bear on it: the newest verdict that decides, or
    the value where that says no less; where none decides, the value, unless a verdict contradicts
    it, and where there is no value the newest verdict.
    """
    exact, verdicts = _newest(series, level)
    if not verdicts:
        return None if exact is None else Standing(reading=exact)
    found = _decided(exact, verdicts, quantity) or _undecided(exact, verdicts, quantity)
    later = verdicts if found is exact else verdicts[: verdicts.index(found)]
    return Standing(reading=found, since=tuple(reversed(later)))


def gauge_says(verdict: ReadingAt, limits: Limits) -> WearWord:
    """The wear word of a gauge verdict."""
    said = gauge_word(_KINDS[verdict.bound], verdict.value, limits)
    return WearWord.GAUGE_NEITHER if isinstance(said, Refusal) else said


def _is_of(reading: ReadingAt, level: int) -> bool:
    return reading.counts and reading.level == level


def _newest(series: Sequence[ReadingAt], level: int) -> tuple[ReadingAt | None, list[ReadingAt]]:
    """The newest value of a level, and the verdicts since, the newest first."""
    verdicts: list[ReadingAt] = []
    for reading in reversed(series):
        if not _is_of(reading, level):
            continue
        if reading.bound is Bound.EXACT:
            return reading, verdicts
        verdicts.append(reading)
    return None, verdicts


def _decided(
    exact: ReadingAt | None, verdicts: list[ReadingAt], quantity: Quantity
) -> ReadingAt | None:
    """What stands where a verdict decides, else None."""
    for place, verdict in enumerate(verdicts):
        word = gauge_says(verdict, quantity.limits)
        if word is WearWord.GAUGE_PAST:
            return _past(exact, verdict, quantity)
        if word is WearWord.GAUGE_WITHIN:
            return _within(exact, verdicts, place, quantity)
    return None


def _past(exact: ReadingAt | None, verdict: ReadingAt, quantity: Quantity) -> ReadingAt:
    """A verdict of past its limit; a value past it that it bears out says more."""
    borne_out = exact is not None and not _contradicts(verdict, exact)
    if exact is not None and borne_out and _word(exact, quantity) is WearWord.PAST_LIMIT:
        return exact
    return verdict


def _within(
    exact: ReadingAt | None, verdicts: list[ReadingAt], place: int, quantity: Quantity
) -> ReadingAt:
    """What stands where the newest verdict that decides says within.

    One of past in the same minute goes before it: which was written first tells nothing. Where the
    part has worn on since, as a newer verdict shows, it says nothing of now, and takes no earlier
    verdict of past away.
    """
    verdict, newer = verdicts[place], verdicts[:place]
    worn_on = [later for later in newer if _contradicts(later, verdict)]
    for other in verdicts[place + 1 :]:
        if gauge_says(other, quantity.limits) is WearWord.GAUGE_PAST:
            if worn_on or other.when == verdict.when:
                return _past(exact, other, quantity)
            break
    if worn_on:
        return exact if exact is not None and _is_at_or_past(exact, quantity) else worn_on[0]
    if exact is not None and not any(_contradicts(each, exact) for each in verdicts):
        return exact
    return verdict


def _undecided(exact: ReadingAt | None, verdicts: list[ReadingAt], quantity: Quantity) -> ReadingAt:
    """What stands where no verdict decides: one that contradicts a value shows it worse."""
    if exact is None:
        return verdicts[0]
    if _is_at_or_past(exact, quantity):
        return exact
    return next((each for each in verdicts if _contradicts(each, exact)), exact)


def _word(exact: ReadingAt, quantity: Quantity) -> WearWord:
    return wear_word(exact.value, quantity.limits, quantity.tool_uncertainty or 0.0)


def _is_at_or_past(exact: ReadingAt, quantity: Quantity) -> bool:
    return _word(exact, quantity) in _AT_OR_PAST


def _contradicts(verdict: ReadingAt, other: ReadingAt) -> bool:
    """Whether a verdict leaves no room for what another reading bounds or gives."""
    near = slack(verdict.value, other.value)
    if verdict.bound is other.bound:
        return False
    if verdict.bound is Bound.AT_LEAST:
        return other.value < verdict.value - near
    return other.value > verdict.value + near
