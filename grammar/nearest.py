"""The nearest word of a list, for suggestions; offered, never taken.

One of several that are equally near is never picked out: the others are as likely to be meant.

Distance: optimal string alignment (insertions, deletions, substitutions, swaps of neighbours).
Source: F. J. Damerau, Communications of the ACM 7 (1964) 171.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from grammar.folding import fold_word

MOST_NAMED = 3  # words equally near that a sentence still names, for the reader to choose
_LONGEST = 40  # no word of the language or a mill is longer; keeps hostile text cheap


def distance(a: str, b: str, most: int) -> int:
    """How many slips lie between two words, or ``most + 1`` when more than ``most``.

    Only places that lie at most so many apart are compared: no other can matter.
    """
    if abs(len(a) - len(b)) > most:
        return most + 1
    far = most + 1
    older: list[int] = []
    before = [min(j, far) for j in range(len(b) + 1)]
    for i, x in enumerate(a, start=1):
        row = [far] * (len(b) + 1)
        if i <= most:
            row[0] = i
        first, last = max(1, i - most), min(len(b), i + most)
        for j in range(first, last + 1):
            y = b[j - 1]
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, older[j - 2] + 1)
            row[j] = cost
        if min(row[max(0, first - 1) : last + 1], default=far) > most:
            return far
        older, before = before, row
    return min(before[-1], far)


def allowed_slips(word: str) -> int:
    """How many slips a word of that length may hold and still be offered."""
    return 0 if len(word) < 2 else 1 if len(word) < 6 else 2


def all_nearest(word: str, choices: Iterable[str]) -> tuple[str, ...]:
    """The choices nearest to a word, all that are equally near; none when none is near."""
    folded = fold_word(word[: _LONGEST + 1])
    if len(folded) > _LONGEST:
        return ()
    most = allowed_slips(folded)
    best: list[str] = []
    for choice in choices:
        slips = distance(folded, fold_word(choice), most)
        if slips < most or (slips == most and not best):
            best, most = [choice], slips
        elif slips == most:
            best.append(choice)
    return tuple(dict.fromkeys(best))


def each_nearest(word: str, choices: Iterable[str]) -> tuple[str, ...]:
    """As ``all_nearest``; where ``choices`` is a mapping to what each word means, one a meaning."""
    near = all_nearest(word, choices)
    if not isinstance(choices, Mapping):
        return near
    first: dict[object, str] = {}
    for choice in near:
        first.setdefault(choices[choice], choice)
    return tuple(first.values())


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """The one choice nearest to a word, or None when none is near or several equally so.

    Where ``choices`` is a mapping to what each word means, words that mean the same are one.
    """
    near = each_nearest(word, choices)
    return near[0] if len(near) == 1 else None


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """``did you mean A01?``, or ``A01 or B01?`` of a few that are equally near; "" of more."""
    near = each_nearest(word, choices)
    if not 0 < len(near) <= MOST_NAMED:
        return ""
    *others, last = near
    return f"did you mean {', '.join(others)}{' or ' if others else ''}{last}?"
