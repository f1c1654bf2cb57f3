"""Random lines of a small shed's logs, and what a fleet says less where its lines stand."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

from hypothesis import strategies as st

from board.state.fleet import Complaint, Fleet, Lock, Source
from grammar.entries import Span
from tests.state.shed import NIGHT

LOOMS = ("A01", "A02", "B01")
GROUPS = ("A", "shed", "A01-A02")
PEOPLE = ("KM", "RB")
MINUTES = ("22:10", "22:20", "22:30", "22:40", "22:50")

WORDS_OF_A_LOOM = (
    "stopped", "stopped for warp", "stopped for part", "running", "note hm", "style 4410", "style 7",
    *(f"isolated by {who}" for who in PEOPLE), *(f"lock removed by {who}" for who in PEOPLE),
    "lock removed by RB for KM", "lock seen by RB",
    "fault left head noisy", "fault left tape frays", "fault cleared", "fault cleared left head",
    "fault cleared all",
    "left tape 2.90 mm", "left tape 2.80 mm", "left tape 28.1 mm", "left head force 30 N",
    "left tape gauge 2.40 mm enters", "left tape gauge 2.30 mm stays out",
    "left tape gauge 2.60 mm stays out",
    "replaced left tape", "replaced left head", "adjusted left tape", "cleaned left head",
    "torque 1.4 N.m", "torque 2.2 N.m", "thread-locked", "checked joint ok", "checked joint bad",
    "batch 7F", "batch 8A", "counter 100 h", "counter 90 h", "counter 0 h new",
    *(f"moved left head from {loom}" for loom in LOOMS),
    "open no 1 look", "open no 2 oil", "open count", "open sweep; due early",
    "done no 1 fine", "done no 2", "dropped no 1 no use",
    *(f"done {minute} count" for minute in MINUTES[:2]),
    *(f"struck {minute} wrong" for minute in MINUTES[:3]),
)  # fmt: skip
WORDS_OF_A_GROUP = (
    "stopped for power", "running", "style 7", "note quiet", "open no 1 look", "open no 3 sweep",
    "done no 1", "done no 3 swept", "dropped no 2 no use",
)  # fmt: skip
WORDS_OF_A_HANDOVER = ("handed over KM to RB", "taken over by RB", "taken over by KM")


@dataclass(frozen=True)
class Line:
    """One line: its minute, its place and what it says."""

    minute: str
    place: str
    words: str

    @property
    def text(self) -> str:
        return f"{self.minute} {self.place} {self.words}"


def _lines_of(
    places: tuple[str, ...], words: tuple[str, ...], most: int
) -> st.SearchStrategy[Line]:
    said = st.lists(st.sampled_from(words), min_size=1, max_size=most).map(_joined)
    return st.builds(Line, st.sampled_from(MINUTES), st.sampled_from(places), said)


def _joined(words: list[str]) -> str:
    notes = [w for w in words if w.startswith("note")]  # a note takes the rest of its line
    return "; ".join([*(w for w in words if not w.startswith("note")), *notes[:1]])


LOOM_LINES = _lines_of(LOOMS, WORDS_OF_A_LOOM, 3)
GROUP_LINES = _lines_of(GROUPS, WORDS_OF_A_GROUP, 2)
HANDOVERS = _lines_of(("A", "shed"), WORDS_OF_A_HANDOVER, 1)
LINES = st.lists(st.one_of(LOOM_LINES, LOOM_LINES, LOOM_LINES, GROUP_LINES, HANDOVERS), max_size=14)


def in_one_file(lines: list[Line]) -> dict[str, str]:
    """A log that holds the lines in the order given."""
    return {"a.log": NIGHT + "".join(f"{line.text}\n" for line in lines)}


def in_files(lines: list[Line], files: list[str]) -> dict[str, str]:
    """Logs that hold the lines in the order given, the nth in the nth file named."""
    texts = dict.fromkeys(files, NIGHT)
    for line, name in zip(lines, files, strict=True):
        texts[name] += f"{line.text}\n"
    return texts


def told(value: Any) -> Any:
    """A value less the files and lines it stands in, to compare what it says."""
    match value:
        case Source():
            return value.text
        case Lock():
            return "lock", value.by, value.text, value.since, value.latest, told(value.seen)
        case Complaint():
            message = re.sub(r"\b[a-z0-9]+\.log( line \d+)?", "FILE", value.diagnostic.message)
            message = re.sub(r"(FILE, )+FILE", "FILE", message)
            return value.diagnostic.code.value, value.diagnostic.text, message
        case Fleet():
            complaints = sorted(map(told, value.complaints))
            return told(value.looms), told(value.shed), told(value.history), complaints
        case Enum() | Span():
            return value
        case Mapping():
            return {str(key): told(each) for key, each in value.items()}
        case tuple():
            return [told(each) for each in value]
        case _ if is_dataclass(value):
            return {f.name: told(getattr(value, f.name)) for f in fields(value)}
        case _:
            return value
