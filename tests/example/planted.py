"""The lines of the example that are wrong on purpose, each with the complaint it must draw.

`check` on the example must report exactly these and nothing else. They are data: `story` writes
them at their minute, and a test looks them up with `expected`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One wrong line: when it is written (local), what follows its time, the code it draws.

    `section` says whose file it goes to. Lines with `staged` are written by the story itself,
    since what surrounds them matters; the others stand alone.
    """

    at: str
    section: str
    line: str
    code: str
    staged: bool = False


PLANTED: tuple[Planted, ...] = (
    Planted(at="2026-10-21 09:47", section="A", line="A42 stopped for weft", code="unknown-loom"),
    Planted(at="2026-10-25 01:12", section="A", line="A05 ", code="hour-twice", staged=True),
    Planted(at="2026-10-25 01:48", section="A", line="A14 ", code="hour-twice", staged=True),
    Planted(at="2026-10-25 01:06", section="A", line="A05 ", code="hour-twice", staged=True),
    Planted(
        at="2026-10-29 16:20",
        section="B",
        line="B02 left tpae thickness 2.71 mm",
        code="unknown-part",
    ),
    Planted(
        at="2026-11-05 11:31",
        section="B",
        line="B16 filter pressure 1,050 bar",
        code="number-ambiguous",
    ),
    Planted(
        at="2026-11-10 23:15",
        section="B",
        line="B18 right tape thickness 28.1 mm",
        code="implausible",
        staged=True,
    ),
    Planted(
        at="2026-11-12 12:44",
        section="A",
        line="A03 ",
        code="running-while-isolated",
        staged=True,
    ),
    Planted(
        at="2026-11-16 18:40",
        section="A",
        line="A17 note weaver says noisy, heard it too",
        code="outside-shift",
        staged=True,
    ),
    Planted(at="2026-11-19 02:26", section="A", line="A08 brake angle 36 mm", code="wrong-unit"),
    Planted(
        at="2026-11-25 03:26", section="A", line="A06 right head force 27.5", code="unit-missing"
    ),
    Planted(
        at="2026-11-25 04:41",
        section="B",
        line="B19 isolatd by TN lock 22, knocking at the brake",
        code="not-understood",
    ),
)


def expected(files: Mapping[str, str]) -> list[tuple[str, int, str]]:
    """Path, line number and code of every complaint that the example must draw, in file order.

    Raises LookupError where a planted line does not stand in the files exactly once.
    """
    found = []
    for planted in PLANTED:
        hits = [(path, n) for path, n in _lines_like(files, planted)]
        if len(hits) != 1:
            raise LookupError(f"{planted.at} {planted.line!r} stands {len(hits)} times")
        found.append((*hits[0], planted.code))
    return sorted(found)


def _lines_like(files: Mapping[str, str], planted: Planted) -> list[tuple[str, int]]:
    """Where a line of that minute, in any of the fitters' forms, starts so under that date."""
    day, clock = planted.at.split()
    loom = planted.line.split()[0]
    short = f"{loom[0]}{int(loom[1:])}"
    clocks = {clock, clock.lstrip("0") if clock[0] == "0" else clock, clock.replace(":", "")}
    starts = {f"{c} {name} " for c in clocks for name in (loom, short, loom.lower(), short.lower())}
    rest = planted.line.partition(" ")[2]
    return [
        (path, n)
        for path, text in files.items()
        if _covers(path, day)
        for n, line in enumerate(text.split("\n"), start=1)
        if any(line.startswith(s) and line[len(s) :].startswith(rest) for s in starts)
    ]


def _covers(path: str, day: str) -> bool:
    """Whether a file's shift can hold lines of that date: its own day, or the night after it."""
    name = path.rpartition("/")[2]
    own, night = name[:10], "-night-" in name
    return own == day or (night and own[:8] == day[:8] and int(own[8:]) + 1 == int(day[8:]))
