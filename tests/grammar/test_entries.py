"""Lines of the log and the entries that they are: every clause, in all the forms it may have."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from grammar import entries as e
from grammar.reader import Reader
from tests.grammar.mills import HEADING, PLAIN_READER, READER, under_heading

LEFT_TAPE = e.PartAt(part="tape", side="left")
GUIDE_3 = e.PartAt(part="guide", side="left", number=3)
HOOK = e.PartAt(part="hook")


def mm(value: float, written: str) -> e.Amount:
    return e.Amount(value=value, unit="mm", written=written)


def of(reader: Reader, line: str, heading: str = HEADING) -> e.Entry:
    reading = reader.read(under_heading(line, heading))
    assert reading.diagnostics == (), [d.message for d in reading.diagnostics]
    (entry,) = reading.entries
    assert entry.standing is e.Standing.WHOLE
    return entry


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


CLAUSES: list[tuple[str, Any]] = [
    # stopped
    ("stopped", e.Stopped()),
    ("stopped.", e.Stopped()),
    *((f"stopped for {reason.value}", e.Stopped(reason=reason)) for reason in e.Reason),
    ("STOPPED For Warp", e.Stopped(reason=e.Reason.WARP)),
    ("stopped   for\tlaid-up", e.Stopped(reason=e.Reason.LAID_UP)),
    ("gestoppt wegen Kette", e.Stopped(reason=e.Reason.WARP)),
    ("steht", e.Stopped()),
    # running
    ("running", e.Running()),
    ("running slow, 380 rpm", e.Running(text="slow, 380 rpm")),
    ("running, slow", e.Running(text="slow")),
    ("läuft wieder", e.Running(text="wieder")),
    # isolated
    ("isolated by KM", e.Isolated(by="KM")),
    ("isolated by KM lock 14", e.Isolated(by="KM", text="lock 14")),
    ("Isolated by KM, lock 14", e.Isolated(by="KM", text="lock 14")),
    ("isolated by KM.", e.Isolated(by="KM")),
    ("isolated by: R.B. lock 3", e.Isolated(by="R.B", text="lock 3")),
    ("gesperrt durch KM Schloss 4", e.Isolated(by="KM", text="Schloss 4")),
    ("isolated von KM", e.Isolated(by="KM")),
    ("lock seen by RB", e.LockSeen(by="RB")),
    ("lock removed by KM", e.LockRemoved(by="KM", owner="KM")),
    ("lock removed by RB for KM", e.LockRemoved(by="RB", owner="KM")),
    ("Schloss entfernt von RB wegen KM", e.LockRemoved(by="RB", owner="KM")),
    # faults
    (
        "fault left head drops weft at transfer",
        e.FaultOpened(
            text="left head drops weft at transfer",
            at=e.PartAt(part="head", side="left"),
            side="left",
            symptom="drops weft",
        ),
    ),
    (
        "fault: guide 3 rattles, left",
        e.FaultOpened(text="guide 3 rattles, left", at=GUIDE_3, side="left", symptom="noisy"),
    ),
    (
        "fault broken by hand truck",
        e.FaultOpened(text="broken by hand truck", symptom="broken by hand truck"),
    ),
    ("fault left Smell", e.FaultOpened(text="left Smell", side="left", symptom="smell")),
    ("Störung Öl", e.FaultOpened(text="Öl", symptom="öl")),
    ("fault cleared", e.FaultCleared()),
    ("fault cleared new clamp spring", e.FaultCleared(text="new clamp spring")),
    ("fault cleared left tape", e.FaultCleared(text="left tape", at=LEFT_TAPE, side="left")),
    ("fault cleared all", e.FaultCleared(text="all", every=True)),
    ("fault cleared All.", e.FaultCleared(text="All.", every=True)),
    ("fault cleared all guides", e.FaultCleared(text="all guides")),
    ("Störung behoben", e.FaultCleared()),
    # readings: [SIDE] PART [N] [QUANTITY] NUMBER UNIT
    (
        "left tape thickness 2.35 mm",
        e.Measured(at=LEFT_TAPE, quantity="thickness", amount=mm(2.35, "2.35 mm")),
    ),
    ("left tape 2,35mm", e.Measured(at=LEFT_TAPE, quantity="thickness", amount=mm(2.35, "2,35mm"))),
    (
        "Left Rapier  Tape: 2.35 mm.",
        e.Measured(at=LEFT_TAPE, quantity="thickness", amount=mm(2.35, "2.35 mm")),
    ),
    (
        "gemessen heute links Band Thickness 0.1 IN",
        e.Measured(at=LEFT_TAPE, quantity="thickness", amount=mm(2.54, "0.1 IN")),
    ),
    ("left guide 3 gap 0.3 mm", e.Measured(at=GUIDE_3, quantity="gap", amount=mm(0.3, "0.3 mm"))),
    (
        "left guide 3 side play 3 mm",
        e.Measured(at=GUIDE_3, quantity="side play", amount=mm(3.0, "3 mm")),
    ),
    # a whole number after the part counts it only if a quantity, a gauge or a number follows
    ("hook 3 mm", e.Measured(at=HOOK, quantity="gap", amount=mm(3.0, "3 mm"))),
    (
        "hook 3 0.3 mm",
        e.Measured(at=e.PartAt(part="hook", number=3), quantity="gap", amount=mm(0.3, "0.3 mm")),
    ),
    ("hook 2 in", e.Measured(at=HOOK, quantity="gap", amount=mm(50.8, "2 in"))),
    (
        "hook 2 1 in",
        e.Measured(at=e.PartAt(part="hook", number=2), quantity="gap", amount=mm(25.4, "1 in")),
    ),
    ("hook -0.5 mm", e.Measured(at=HOOK, quantity="gap", amount=mm(-0.5, "-0.5 mm"))),
    ("hook \u22120.5 mm", e.Measured(at=HOOK, quantity="gap", amount=mm(-0.5, "\u22120.5 mm"))),
    (
        "brake angle 33 °",
        e.Measured(
            at=e.PartAt(part="brake"),
            quantity="angle",
            amount=e.Amount(value=33.0, unit="deg", written="33 °"),
        ),
    ),
    # gauges
    (
        "left guide 3 gap gauge 0.30 mm enters",
        e.Gauged(at=GUIDE_3, quantity="gap", amount=mm(0.3, "0.30 mm"), enters=True),
    ),
    (
        "hook 3 gauge 0.30 mm stays out",
        e.Gauged(
            at=e.PartAt(part="hook", number=3),
            quantity="gap",
            amount=mm(0.3, "0.30 mm"),
            enters=False,
        ),
    ),
    (
        "hook Lehre 0,30 mm geht  nicht rein",
        e.Gauged(at=HOOK, quantity="gap", amount=mm(0.3, "0,30 mm"), enters=False),
    ),
    # work
    *((f"{verb.value} left tape", e.Worked(verb=verb, at=LEFT_TAPE)) for verb in e.Verb),
    (
        "replaced left tape worn",
        e.Worked(verb=e.Verb.REPLACED, at=LEFT_TAPE, text="worn", why=e.WhyReplaced.WORN),
    ),
    (
        "replaced left tape, broken at the clamp",
        e.Worked(
            verb=e.Verb.REPLACED,
            at=LEFT_TAPE,
            text="broken at the clamp",
            why=e.WhyReplaced.BROKEN,
        ),
    ),
    (
        "heute getauscht gemessen links Band verschlissen",
        e.Worked(verb=e.Verb.REPLACED, at=LEFT_TAPE, text="verschlissen", why=e.WhyReplaced.WORN),
    ),
    ("adjusted left tape early", e.Worked(verb=e.Verb.ADJUSTED, at=LEFT_TAPE, text="early")),
    (
        "replaced left guide 3 worn",
        e.Worked(verb=e.Verb.REPLACED, at=GUIDE_3, text="worn", why=e.WhyReplaced.WORN),
    ),
    ("replaced left guide 3", e.Worked(verb=e.Verb.REPLACED, at=GUIDE_3)),
    (
        "cleaned left guide 3, dusty",
        e.Worked(verb=e.Verb.CLEANED, at=GUIDE_3, text="dusty"),
    ),
    (
        "adjusted left guide 3 in a hurry",
        e.Worked(verb=e.Verb.ADJUSTED, at=GUIDE_3, text="in a hurry"),
    ),
    ("adjusted hook 3 mm", e.Worked(verb=e.Verb.ADJUSTED, at=HOOK, text="3 mm")),
    ("adjusted hook 3,5 turns", e.Worked(verb=e.Verb.ADJUSTED, at=HOOK, text="3,5 turns")),
    ("moved left head from a9", e.Moved(at=e.PartAt(part="head", side="left"), origin="A09")),
    ("moved hook 2 from B01", e.Moved(at=e.PartAt(part="hook", number=2), origin="B01")),
    # proofs
    (
        "torque clamp screws 0.80 N.m",
        e.Torqued(amount=e.Amount(value=0.8, unit="N.m", written="0.80 N.m"), text="clamp screws"),
    ),
    (
        "torque 2 screws M5 80 cN.m",
        e.Torqued(amount=e.Amount(value=0.8, unit="N.m", written="80 cN.m"), text="2 screws M5"),
    ),
    ("torque 0.8Nm", e.Torqued(amount=e.Amount(value=0.8, unit="N.m", written="0.8Nm"))),
    ("torque 0.8 N·m", e.Torqued(amount=e.Amount(value=0.8, unit="N.m", written="0.8 N·m"))),
    ("thread-locked", e.ThreadLocked()),
    ("checked joint ok", e.Checked(text="joint", good=True)),
    ("checked joint, OK.", e.Checked(text="joint", good=True)),
    ("checked joint bad", e.Checked(text="joint", good=False)),
    ("checked all screws twice i.O.", e.Checked(text="all screws twice", good=True)),
    ("checked joint in  Ordnung", e.Checked(text="joint", good=True)),
    ("checked ok bad", e.Checked(text="ok", good=False)),
    ("batch 7F", e.Batch(word="7F")),
    (
        "counter 18250.5 h",
        e.Counter(amount=e.Amount(value=18250.5, unit="h", written="18250.5 h")),
    ),
    (
        "counter 0 h new",
        e.Counter(amount=e.Amount(value=0.0, unit="h", written="0 h"), new_meter=True),
    ),
    (
        "counter 2000000 picks",
        e.Counter(amount=e.Amount(value=2e6, unit="picks", written="2000000 picks")),
    ),
    ("counter 90 min", e.Counter(amount=e.Amount(value=1.5, unit="h", written="90 min"))),
    ("style 4410", e.StyleSet(word="4410")),
    # actions
    ("open recheck left tape", e.Opened(text="recheck left tape")),
    ("open 2 clamps missing", e.Opened(text="2 clamps missing")),
    ("open no 31 recheck left tape", e.Opened(number=31, text="recheck left tape")),
    ("open No. 31, recheck", e.Opened(number=31, text="recheck")),
    ("open Nr 31 recheck", e.Opened(number=31, text="recheck")),
    ("open no spare in store", e.Opened(text="no spare in store")),
    ("open grease; for RB", e.Opened(text="grease", whom="RB")),
    (
        "open grease; due 23:30; for RB",
        e.Opened(
            text="grease",
            due=e.DueAt(moment=utc("2026-11-24T23:30"), written="23:30"),
            whom="RB",
        ),
    ),
    (
        "open grease; for RB; due 0600.",
        e.Opened(
            text="grease",
            due=e.DueAt(moment=utc("2026-11-25T06:00"), written="0600"),
            whom="RB",
        ),
    ),
    (
        "open x; due 22:40",  # strictly after the entry: tomorrow
        e.Opened(text="x", due=e.DueAt(moment=utc("2026-11-25T22:40"), written="22:40")),
    ),
    (
        "open x; due 2026-11-30",  # a date ends at its midnight
        e.Opened(text="x", due=e.DueAt(moment=utc("2026-12-01T00:00"), written="2026-11-30")),
    ),
    (
        "open x; due 2026-11-01",  # a past one is allowed
        e.Opened(text="x", due=e.DueAt(moment=utc("2026-11-02T00:00"), written="2026-11-01")),
    ),
    (
        "open x; due 2026-11-30 06:00",
        e.Opened(text="x", due=e.DueAt(moment=utc("2026-11-30T06:00"), written="2026-11-30 06:00")),
    ),
    (
        "open x; due 2026-11-30T06:00+01:00",
        e.Opened(
            text="x",
            due=e.DueAt(moment=utc("2026-11-30T05:00"), written="2026-11-30T06:00+01:00"),
        ),
    ),
    (
        "open x; due early",
        e.Opened(text="x", due=e.DueAt(moment=utc("2026-11-25T06:00"), written="early")),
    ),
    ("open x; due before start", e.Opened(text="x", due=e.DueBeforeStart())),
    (
        "open x; due in 200 h",
        e.Opened(text="x", due=e.DueAfterUse(use=200.0, unit="h", written="in 200 h")),
    ),
    (
        "open x; due in 2000000 picks",
        e.Opened(text="x", due=e.DueAfterUse(use=2e6, unit="picks", written="in 2000000 picks")),
    ),
    ("done no 31 smooth", e.Done(name=e.ByNumber(number=31, written="no 31"), text="smooth")),
    ("done no 31", e.Done(name=e.ByNumber(number=31, written="no 31"))),
    (
        "done 23:50 smooth",
        e.Done(name=e.ByTime(moment=utc("2026-11-24T23:50"), written="23:50"), text="smooth"),
    ),
    (
        "done 05:10",
        e.Done(name=e.ByTime(moment=utc("2026-11-25T05:10"), written="05:10")),
    ),
    (
        "done 2026-11-20T23:50 smooth",
        e.Done(
            name=e.ByTime(moment=utc("2026-11-20T23:50"), written="2026-11-20T23:50"),
            text="smooth",
        ),
    ),
    (
        "dropped no 31 loom sold",
        e.Dropped(name=e.ByNumber(number=31, written="no 31"), text="loom sold"),
    ),
    (
        "dropped 23:50, loom sold",
        e.Dropped(name=e.ByTime(moment=utc("2026-11-24T23:50"), written="23:50"), text="loom sold"),
    ),
    # notes take the rest of the line
    ("note weaver says noisy", e.Note(text="weaver says noisy")),
    ("note a; b ;c", e.Note(text="a; b ;c")),
    ("note stopped for warp; running", e.Note(text="stopped for warp; running")),
    ("note a; by hand truck", e.Note(text="a; by hand truck")),
    ("Notiz Öl  nachgefüllt", e.Note(text="Öl  nachgefüllt")),
    (
        "struck 22:55 read the wrong tape",
        e.Struck(
            name=e.ByTime(moment=utc("2026-11-24T22:55"), written="22:55"),
            text="read the wrong tape",
        ),
    ),
    (
        "struck 2026-11-23T22:55 wrong loom",
        e.Struck(
            name=e.ByTime(moment=utc("2026-11-23T22:55"), written="2026-11-23T22:55"),
            text="wrong loom",
        ),
    ),
]


@pytest.mark.parametrize(("clause", "expected"), CLAUSES, ids=[c[0] for c in CLAUSES])
def test_clause(clause: str, expected: e.Clause) -> None:
    entry = of(READER, f"22:40 A07 {clause}")
    assert entry.clauses == (expected,)
    assert entry.when == entry.latest == utc("2026-11-24T22:40")
    assert entry.by == "KM"
    assert not entry.own_writer


def test_every_kind_of_clause_is_in_the_table() -> None:
    of_the_shed = {e.HandedOver, e.TakenOver}
    assert {type(expected) for _, expected in CLAUSES} == set(e.KINDS) - of_the_shed


OF_GROUPS: list[tuple[str, e.PlaceKind, str, int, e.Clause]] = [
    ("shed stopped for power", e.PlaceKind.SHED, "shed", 48, e.Stopped(reason=e.Reason.POWER)),
    ("Websaal running", e.PlaceKind.SHED, "shed", 48, e.Running()),
    ("a style K17", e.PlaceKind.SECTION, "A", 24, e.StyleSet(word="K17")),
    ("A01-A06 note warm", e.PlaceKind.RANGE, "A01-A06", 6, e.Note(text="warm")),
    ("a1-a6 running", e.PlaceKind.RANGE, "A01-A06", 6, e.Running()),
    ("A1–A6 running", e.PlaceKind.RANGE, "A01-A06", 6, e.Running()),
    ("B open look", e.PlaceKind.SECTION, "B", 24, e.Opened(text="look")),
    ("shed handed over KM to RB", e.PlaceKind.SHED, "shed", 48, e.HandedOver(by="KM", to="RB")),
    ("A taken over by RB", e.PlaceKind.SECTION, "A", 24, e.TakenOver(by="RB")),
    (
        "shed taken over by RB; sealed 214 9f3ac1",
        e.PlaceKind.SHED,
        "shed",
        48,
        e.TakenOver(by="RB", seal=e.Seal(lines=214, digest="9f3ac1")),
    ),
]


@pytest.mark.parametrize(
    ("line", "kind", "name", "count", "clause"), OF_GROUPS, ids=[g[0] for g in OF_GROUPS]
)
def test_of_groups(line: str, kind: e.PlaceKind, name: str, count: int, clause: e.Clause) -> None:
    entry = of(READER, f"22:40 {line}")
    assert (entry.place.kind, entry.place.name, len(entry.place.looms)) == (kind, name, count)
    assert entry.clauses == (clause,)


@pytest.mark.parametrize(
    ("written", "loom"),
    [("A07", "A07"), ("a7", "A07"), ("a007", "A07"), ("Ａ０７", "A07"), ("b24", "B24")],
)
def test_looms_in_any_case_and_without_leading_zeros(written: str, loom: str) -> None:
    assert of(READER, f"22:40 {written} running").place.name == loom


@pytest.mark.parametrize(("written", "loom"), [("14", "14"), ("014", "14"), ("5-8", "5-8")])
def test_looms_numbered_plainly(written: str, loom: str) -> None:
    assert of(PLAIN_READER, f"22:40 {written} running").place.name == loom


@pytest.mark.parametrize("written", ["22:40", "2240", "2026-11-24T22:40", "2026-11-24T22:40Z"])
def test_forms_of_a_time(written: str) -> None:
    assert of(READER, f"{written} A07 running").when == utc("2026-11-24T22:40")


@pytest.mark.parametrize("written", ["9:05", "09:05", "0905", "9:05,"])
def test_forms_of_a_time_in_the_morning(written: str) -> None:
    entry = of(READER, f"{written} A07 running", "day 2026-11-24 early")
    assert entry.when == utc("2026-11-24T09:05")
    assert entry.by is None


WRITERS = [
    ("stopped; by RB", "RB", True),
    ("by RB; stopped", "RB", True),
    ("stopped; by RB; running", "RB", True),
    ("note a; b; by RB", "RB", True),
    ("note a; by RB;", "RB", True),
    ("note by RB", "KM", False),
    ("fault broken by RB", "KM", False),
    ("stopped; by Rosa-Maria.", "Rosa-Maria", True),
]


@pytest.mark.parametrize(("clauses", "by", "own"), WRITERS, ids=[w[0] for w in WRITERS])
def test_writers(clauses: str, by: str, own: bool) -> None:
    entry = of(READER, f"22:40 A07 {clauses}")
    assert (entry.by, entry.own_writer) == (by, own)


def test_the_note_ends_before_its_writer() -> None:
    assert of(READER, "22:40 A07 note a; b; by RB").clauses == (e.Note(text="a; b"),)


def test_clauses_are_read_from_left_to_right() -> None:
    entry = of(READER, "22:40 A07;; stopped ;running;; batch 7F;")
    assert entry.clauses == (e.Stopped(), e.Running(), e.Batch(word="7F"))


HEADINGS = [
    ("day 2026-11-24 night by KM", "2026-11-24", "night", "KM"),
    ("Day 2026-11-24 NIGHT", "2026-11-24", "night", None),
    ("  DAY: 2026-11-24, early by R.B.", "2026-11-24", "early", "R.B"),
    ("day 2026-11-24 late von Rosa", "2026-11-24", "late", "Rosa"),
    ("ｄａｙ ２０２６-１１-２４ night by KM", "2026-11-24", "night", "KM"),
]


@pytest.mark.parametrize(("line", "day", "shift", "by"), HEADINGS, ids=[h[0] for h in HEADINGS])
def test_headings(line: str, day: str, shift: str, by: str | None) -> None:
    reading = READER.read(f"{line}\n")
    expected = e.Heading(shift=e.Shift(day=date.fromisoformat(day), name=shift), by=by, line=1)
    assert reading.headings == (expected,)
    assert reading.diagnostics == ()
    assert reading.skipped == reading.lines == 1


def test_a_heading_holds_until_the_next() -> None:
    text = "day 2026-11-24 night by KM\n23:00 A1 running\nday 2026-11-25 early by RB\n7:00 A2 running\n"
    first, second = READER.read(text).entries
    assert (first.when, first.by) == (utc("2026-11-24T23:00"), "KM")
    assert (second.when, second.by) == (utc("2026-11-25T07:00"), "RB")


@pytest.mark.parametrize(
    "bad",
    [
        "day 2026-11-25 nite",
        "day",
        "day 25/11/26 early",
        "dya 2026-11-25 early",
        "2026-11-25 early by RB",
    ],
)
def test_after_a_refused_heading_entries_are_refused(bad: str) -> None:
    text = (
        f"{HEADING}\n23:00 A1 running\n{bad}\n7:00 A2 running\n"
        "2026-11-25T07:10 A3 running\nday 2026-11-25 early\n8:00 A4 running\n"
    )
    reading = READER.read(text)
    assert [entry.place.name for entry in reading.entries] == ["A01", "A03", "A04"]
    assert [d.code.value for d in reading.diagnostics] == ["not-understood", "no-day"]
    assert [(f.line, f.shift.name) for f in reading.filed] == [(2, "night"), (7, "early")]


def test_each_file_starts_without_heading() -> None:
    READER.read(f"{HEADING}\n")
    assert [d.code.value for d in READER.read("22:40 A07 running\n").diagnostics] == ["no-day"]


def test_what_is_carried_on_reads_the_rest_of_a_file_alike() -> None:
    lines = [HEADING, "22:40 A07 stopped", "", "23:10 A07 running", "# end", "23:11 A8 running"]
    whole = READER.read("".join(f"{line}\n" for line in lines))
    for cut in range(len(lines) + 1):
        first = READER.read("".join(f"{line}\n" for line in lines[:cut]))
        rest = READER.read("".join(f"{line}\n" for line in lines[cut:]), carried=first.carried)
        assert first.entries + rest.entries == whole.entries
        assert [x.line for x in first.entries + rest.entries] == [2, 4, 6]
        assert first.filed + rest.filed == whole.filed
        assert rest.carried == whole.carried


def test_comments_and_blank_lines_are_skipped_and_counted() -> None:
    reading = READER.read("# a comment\n\n   \t\n")
    assert (reading.lines, reading.skipped, reading.diagnostics) == (3, 3, ())
