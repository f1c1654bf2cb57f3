"""Spans of time: overlapping ones joined, cut to others, added up.

Plain numbers on one time axis [hours since any fixed moment]; a span runs from its start up to, and
not including, its end. What the spans mean is for `availability` and its callers.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from operator import attrgetter

from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Span:
    """A stretch of time [hours]; never empty."""

    start: float
    end: float

    def __post_init__(self) -> None:
        """Raise ValueError unless start < end, both finite."""
        if not (math.isfinite(self.start) and math.isfinite(self.end) and self.start < self.end):
            raise ValueError(f"a span needs start < end, not {self.start} and {self.end}")

    @property
    def length(self) -> float:
        """How long it is [hours]."""
        return self.end - self.start


_start = attrgetter("start")


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same times as disjoint spans in order; spans that touch become one."""
    result: list[Span] = []
    for span in sorted(spans, key=_start):
        if result and span.start <= result[-1].end:
            last = result.pop()
            result.append(Span(start=last.start, end=max(last.end, span.end)))
        else:
            result.append(span)
    return tuple(result)


def common(left: Sequence[Span], right: Sequence[Span]) -> tuple[Span, ...]:
    """The times that lie in both; each side is to be joined already.

    Raises ValueError for a side that is not in order and disjoint.
    """
    for side in (left, right):
        if any(later.start <= earlier.end for earlier, later in pairwise(side)):
            raise ValueError("spans are to be joined before they are compared")
    result: list[Span] = []
    here, there = 0, 0
    while here < len(left) and there < len(right):
        start = max(left[here].start, right[there].start)
        end = min(left[here].end, right[there].end)
        if start < end:
            result.append(Span(start=start, end=end))
        if left[here].end < right[there].end:
            here += 1
        else:
            there += 1
    return tuple(result)


def total(spans: Iterable[Span]) -> float:
    """How long the spans are together [hours], overlaps counted as often as they occur."""
    return math.fsum(span.length for span in spans)
