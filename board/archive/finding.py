"""The history of many mills searched: each by its own register, the hits merged by time.

A job answers plain values: what was hit as JSON text behind what orders it, and counts.
"""

from __future__ import annotations

import json
from argparse import Namespace
from collections import Counter
from datetime import datetime
from functools import partial
from heapq import merge as merged_in_order
from pathlib import Path

from board.archive.asking import Task, of_each
from board.archive.opening import MillAsked, Opened, opened
from board.commands.find import question_of
from board.index.finding import find
from board.loading import moment_of
from board.shell import CannotRun
from board.show.find_screen import find_document

# one hit: when [s since 1970], its mill, its place in the mill's answer, and the hit as JSON
Hit = tuple[float, str, int, str]
Counts = tuple[tuple[str, int], ...]
# a mill: its name, its zone, how many hits, and why nothing could be meant by the question there
MillFound = tuple[str, str, int, str]
# hits in the order of time, mills, hits by loom, by part and by symptom, near spellings by mill and
# word, mills that could not be asked with the reason, and of how many hits to keep the newest
Found = tuple[
    tuple[Hit, ...],
    tuple[MillFound, ...],
    tuple[Counts, Counts, Counts],
    tuple[tuple[str, str, tuple[str, ...]], ...],
    tuple[tuple[str, str], ...],
    int,
]


def find_in(task: Task) -> Found:
    """Search some mills of an archive."""
    out, pairs, _, environ = task
    asked = dict(pairs)
    most = int(str(asked["most"]))

    def one(mill: MillAsked) -> Found:
        with opened(Path(out), mill, environ) as there:
            return _in_one(there, asked, most)

    return of_each(task, one, partial(_not_there, most), merge)


def _not_there(most: int, name: str, reason: str) -> Found:
    return (), (), ((), (), ()), (), ((name, reason),), most


def _in_one(there: Opened, asked: dict[str, object], most: int) -> Found:
    name, mill = there.name, there.mill
    try:
        question = question_of(Namespace(**asked), mill)
        written_by = moment_of(str(asked["at"]), mill, "--at") if asked["at"] else None
    except CannotRun as error:
        return (), ((name, mill.zone.key, 0, error.sentence),), ((), (), ()), (), (), most
    around = int(str(asked["around"]))
    answer = find(there.index, there.as_of, question, around=around, written_by=written_by)
    document = find_document(answer, mill.zone, most)
    newest = answer.hits[-most:] if most > 0 else answer.hits
    hits = tuple(
        (_seconds(hit.found.near), name, place, json.dumps({"mill": name, **record}))
        for place, (hit, record) in enumerate(zip(newest, document["hits"], strict=True))
    )
    totals = answer.totals
    counts = (
        tuple((f"{name} {loom}", count) for loom, count in totals.looms),
        totals.parts,
        totals.symptoms,
    )
    near = tuple((name, word, words) for word, words in answer.near.items())
    return hits, ((name, mill.zone.key, len(answer.hits), ""),), _sorted(counts), near, (), most


def _seconds(near: datetime | None) -> float:
    """What orders a hit: lines of which no time is known come last, as within one mill."""
    return float("inf") if near is None else near.timestamp()


def merge(a: Found, b: Found) -> Found:
    """Two answers as one: associative, and the same either way round."""
    most = a[5]
    hits = tuple(merged_in_order(a[0], b[0], key=lambda hit: hit[:3]))
    one, two, three = (_added(x, y) for x, y in zip(a[2], b[2], strict=True))
    return (
        hits[-most:] if most > 0 else hits,
        tuple(sorted((*a[1], *b[1]))),
        (one, two, three),
        tuple(sorted((*a[3], *b[3]))),
        tuple(sorted((*a[4], *b[4]))),
        most,
    )


def _added(a: Counts, b: Counts) -> Counts:
    return _most(Counter(dict(a)) + Counter(dict(b)))


def _sorted(counts: tuple[Counts, Counts, Counts]) -> tuple[Counts, Counts, Counts]:
    looms, parts, symptoms = counts
    return _most(Counter(dict(looms))), _most(Counter(dict(parts))), _most(Counter(dict(symptoms)))


def _most(counter: Counter[str]) -> Counts:
    """The most frequent first, equals by name."""
    return tuple(sorted(counter.items(), key=lambda item: (-item[1], item[0])))


def near_words(found: Found) -> dict[str, tuple[str, ...]]:
    """Near spellings of each word, of all mills; none where anything was found."""
    if any(count for _, _, count, _ in found[1]):
        return {}
    words: dict[str, dict[str, None]] = {}
    for _, word, near in found[3]:
        words.setdefault(word, {}).update(dict.fromkeys(near))
    return {word: tuple(near)[:_MOST_NEAR] for word, near in words.items()}


_MOST_NEAR = 3
