"""No isolation is lost to a slip of the pen: it counts, or its line is shown."""

from __future__ import annotations

import re
from random import Random

import pytest

from grammar.entries import Isolated, Standing
from grammar.reader import Reading
from tests.grammar.lines import slip
from tests.grammar.mills import READER, under_heading


def read(line: str) -> Reading:
    return READER.read(under_heading(line))


def locks(reading: Reading) -> list[Isolated]:
    return [c for e in reading.entries for c in e.clauses if isinstance(c, Isolated)]


SALVAGED = [
    ("22:40 A07 stopped fro warp; isolated by KM lock 3", [("KM", "lock 3")]),
    ("22:40 A07 isolated by KM; nonsense", [("KM", "")]),
    ("22:40 A07 nonsense; isolated by KM; more; Isolated by RB x; y", [("KM", ""), ("RB", "x")]),
    ("22:40 A07 brake angle 36 mm; isolated by KM", [("KM", "")]),
    ("22:40 A07 isolated by KM; left tape thickness 2.3", [("KM", "")]),
    ("22:40 A07 nonsense; gesperrt durch KM", [("KM", "")]),
    ("22:40 A07 nonsense; isolated by KM; isolated", [("KM", "")]),
    ("22:40 A07 isolated by KM; due early", [("KM", "")]),
    ("22:40 A07 open x; due 25:99; isolated by KM", [("KM", "")]),
    ("22:40 A07 nonsense ß İ; isolated by KM", [("KM", "")]),
]


@pytest.mark.parametrize(("line", "expected"), SALVAGED, ids=[s[0] for s in SALVAGED])
def test_an_isolation_in_a_refused_line_counts(line: str, expected: list[tuple[str, str]]) -> None:
    reading = read(line)
    (entry,) = reading.entries
    assert entry.standing is Standing.ISOLATIONS_ONLY
    assert [(c.by, c.text) for c in locks(reading)] == expected
    assert len(reading.diagnostics) == 1
    assert [u.line for u in reading.may_isolate] == [2]
    for clause in entry.clauses:
        assert line[clause.span.start : clause.span.end].casefold().startswith(("isol", "gesp"))


def test_the_writer_of_a_refused_line_is_kept() -> None:
    (entry,) = read("22:40 A07 nonsense; isolated by KM; by RB").entries
    assert (entry.by, entry.own_writer) == ("RB", True)


SHOWN = [
    "25:40 A07 isolated by KM",  # no time of day
    "22.40 A07 isolated by KM",
    "A07 isolated by KM",
    "A99 isolated by KM",
    "22:40 A99 isolated by KM",  # no such loom
    "22:40 shed isolated by KM",  # a group
    "22:40 isolated by KM",
    "2026-02-30T22:40 A07 isolated by KM",
    "22:40 A07 isolatd by KM",
    "22:40 A07 ISOLATED KM",
    "22:40 A07 siolated by KM",
    "22:40 A07 isolation KM",
    "22:40 A07 locked out by KM",
    "22:40 A07 lock-out KM",
    "22:40 A07 lock on, KM",
    "22:40 A07 gespert durch KM",  # near the mill's own word
    "22:40 A07 gesperrt KM",
    "22:40 A07 gesperrt von JO Schloss 5",
    "22:40 A07 schloss KM",  # the mill's own word for a lock
    "22:40 A07 iso TN 9",
    "22:40 A07 isoliert von JO",
    "22:40 A07 TN in the machine",
    "22:40 TN in the machine",
    "22:40 A07 TN is inside the loom",
    "22:40 A07 stopped locked out KM",
    "22:40 A07 lock seen by RB again",
    "22:40 A07 ｉｓｏｌａｔｅｄ KM",
    "22:40 A07 lcok 14 KM",
    "22:40 A07 lokc 14 KM",
    "22:40 A07 lok 14 KM",
    "22:40 A07 loc 14 KM",
    "22:40 A07 padlock 14 KM",
    "22:40 A07 padlocked KM",
    "22:40 A07 tagged out by KM",
    "22:40 A07 loto KM",
    "22:40 A07 KM inside",
    "22:40 A07isolated by TN",  # a blank forgotten
    "22:40 A07 stoppedisolated by TN",
    "22:40 A07lock 14 TN",
    "22:40 A07 TN inside it, hands off",
    "22:40 A07 TN is inside with helper",
    "22:40 A07 TN ist in der Maschine",
    "22:40 A07 TN and KM are in the machine",
    "22:40 A07 pdlock TN",
    "22:40 A07 hands inside, TN",
    "22:40 A07 Vorhängeschloss TN",
    "22:40 A07 TN padlocked it",
    "22:40 A07 i\0s\0o\0l\0a\0t\0e\0d\0 \0b\0y\0 \0K\0M\0",  # as UTF-16 writes it
    "isolated",
]


@pytest.mark.parametrize("line", SHOWN)
def test_a_refused_line_near_an_isolation_is_shown(line: str) -> None:
    reading = read(line)
    assert locks(reading) == []
    assert [u.line for u in reading.may_isolate] == [2]
    assert reading.may_isolate[0].text == line


HIDES = re.compile("after: note|behind: ; note")


@pytest.mark.parametrize("line", SHOWN)
def test_it_is_never_told_to_put_it_behind_note(line: str) -> None:
    for diagnostic in read(line).diagnostics:
        assert not HIDES.search(diagnostic.help), diagnostic


NOT_SHOWN = [
    "22:40 A07 nonsense",
    "22:40 A07 thread-lock done",
    "22:40 A07 thread lockd",
    "22:40 A99 stopped",
    "22:40 A07 block torn",
    "22:40 A07 clock late",
    "22:40 A07 look at the left head",
    "22:40 A07 inside guide 3 worn",
    "22:40 A07 isobars low",
    "22:40 A07 machined edge",
    "22:40 A07 fault isolating switch warm",  # read as a fault, not refused
    "22:40 A07 note isolated by the fence",
    "22:40 A07 note isolated by a fence",
    "22:40 A07 fault THE SWITCH IS ISOLATED BY RUBBER",
    "22:40 A07 isolated by KM",
    "22:40 A07 isolated by KM lock 14 and lock 15",  # two locks of one man
    "22:40 A07 isolated by KM lock 14, MCC 3",
    "22:40 A07 isolated by KM mit PSA",
    "22:40 A07 isolated by KM lock 14, key with TN",
    "22:40 A07 isolated by KM; note isolated by KM since noon",
    "22:40 A07 isolated by KM, isolated by RB; isolated by RB",
    "22:40 A07 note weft blocked RB saw it",
    "22:40 A07 fault head knocked KM heard it",
    "22:40 A07 note thread locked KM did it",
    "22:40 A07 note lock seen by RB",
    "22:40 A07 NOTE IS STOPPED BY NOISE IN IT",
]


@pytest.mark.parametrize("line", NOT_SHOWN)
def test_other_lines_are_not_shown(line: str) -> None:
    assert read(line).may_isolate == ()


@pytest.mark.parametrize(
    "line",
    [
        "22:40 A07 running, isolated by KM",
        "22:40 A07 fault left head broke, isolated by KM lock 3",
        "22:40 A07 note asked TN; isolated by KM",
        "22:40 A07 isolated by KM lock 3, isolated by RB",
        "22:40 A07 note x; Gesperrt durch KM",
        "22:40 A07 running slow isolated by KM",
        "22:40 A07 fault left head broke isolated by km lock 3",
        "22:40 A07 open measure the guide isolated by TN, lock 3; due early",
        "22:40 A07 note gesperrt durch KM",
        "22:40 A07 isolated by KM lock 3 isolated by RB",
        "22:40 A07 isolated by KM; note isolated by RB",
        "22:40 A07 stopped for fault; fault head broken isolated by Karl lock 14",
        "22:40 A07 running slow isolated by Karl",
        "22:40 A07 note stopped it, isolatd by KM lock 14",
        "22:40 A07 fault head broken, isolated KM",
        "22:40 A07 fault head broken, locked by KM lock 14",
        "22:40 A07 note locked out by KM",
        "22:40 A07 note lock of RB is still on",
        "22:40 A07 note KM is in the machine",
        # somebody beside the owner of a lock
        "22:40 A07 isolated by KM lock 14, RB lock 15",
        "22:40 A07 isolated by KM and RB",
        "22:40 A07 isolated by KM + RB",
        "22:40 A07 isolated by KM RB lock 14",
        "22:40 A07 isolated by KM for RB",
        "22:40 A07 isolated by KM (RB too)",
        "22:40 A07 isolated by KM lock 14 and RB too",
        "22:40 A07 isolated by KM lock 14, RB inside too",
        "22:40 A07 isolated by KM, also RB",
        "22:40 A07 isolated by KM and Karl lock 3",
    ],
)
def test_a_free_text_that_took_in_an_isolation_is_shown(line: str) -> None:
    reading = read(line)
    assert reading.diagnostics == ()
    assert reading.entries[0].standing is Standing.WHOLE
    assert [(u.line, u.more) for u in reading.may_isolate] == [(2, True)]


@pytest.mark.parametrize(
    ("line", "more"),
    [
        ("22:40 A07 isolated by KM; nonsense", False),
        ("22:40 A07 isolated by KM lock 14; left tpae 2.3 mm; isolated by RB", False),
        ("22:40 A07 isolated by KM lock 14; isolatd by RB lock 15", True),
        ("22:40 A07 isolated by KM lock 14; RB lock 15", True),
        ("22:40 A07 isolated by KM; gesperrt RB", True),
        ("22:40 A07 isolated by KM, isolated by RB; nonsense", True),
        ("22:40 A07 isolated by KM and RB; nonsense", True),
        ("22:40 A07 isolated by KM; note " + "x " * 3000 + "; isolated by RB", True),
        ("22:40 A99 isolated by KM; nonsense", False),  # nothing was read from it
    ],
)
def test_a_refused_line_that_may_hide_one_more_isolation_is_marked(line: str, more: bool) -> None:
    assert [u.more for u in read(line).may_isolate] == [more]


@pytest.mark.parametrize("text", ["22:40 A07 isolated by KM", "22:40 A07 isolated by KM;"])
def test_without_heading_it_is_shown(text: str) -> None:
    reading = READER.read(f"{text}\n")
    assert reading.entries == ()
    assert [u.line for u in reading.may_isolate] == [1]


def test_in_a_line_that_is_too_long() -> None:
    reading = read("22:40 A07 isolated by KM; note " + "x" * 5000)
    assert [c.by for c in locks(reading)] == ["KM"]
    assert [u.line for u in reading.may_isolate] == [2]
    far = read("22:40 A07 note " + "x " * 5000 + "; isolated by KM")
    assert locks(far) == []
    assert [u.line for u in far.may_isolate] == [2]
    assert read("22:40 A07 note " + "x " * 5000).may_isolate == ()


def test_at_a_time_that_the_clocks_skipped() -> None:
    reading = READER.read("day 2026-03-28 night\n01:30 A07 isolated by KM\n")
    assert reading.entries == ()
    assert [u.line for u in reading.may_isolate] == [2]


STUMPS = ("isol", "solated", "iolated", "ioslated")


def test_one_slip_never_loses_an_isolation() -> None:
    """Whatever is left of the word, the lock counts or the line is shown."""
    random = Random(5)
    line = "22:40 A07 stopped for part; isolated by KM lock 14; replaced left tape"
    seen = 0
    for _ in range(6000):
        slipped = slip(line, random).replace("\n", " ")
        if not any(stump in slipped for stump in STUMPS):
            continue  # the word is gone
        reading = read(slipped)
        assert locks(reading) or reading.may_isolate, slipped
        assert not any(HIDES.search(d.help) for d in reading.diagnostics), slipped
        seen += 1
    assert seen > 4000


@pytest.mark.parametrize("words", ["isol by KM", "locked out", "lock 14 on", "ISOLATED by KM"])
def test_a_word_of_isolation_across_the_cut_of_a_long_line_is_seen(words: str) -> None:
    for begin in range(4096 - 40, 4096 + 10):
        line = f"22:40 A07 note {'x' * (begin - 15)} {words} {'y' * 300}"
        assert READER.read(under_heading(line)).may_isolate, begin


def test_a_line_that_may_isolate_is_of_its_heading_and_its_writer() -> None:
    text = (
        "22:00 A01 isolatd by JO\n"
        "day 2026-11-24 night by KM\n22:10 A01 isolatd by JO\n22:11 A01 isolatd by JO; by Dw \n"
        "22:12 A01 isolated by EP; isolatd by RB; by TN\n"
        "dya 2026-11-25 early by RB locked\n06:10 A01 isolatd by JO\n"
    )
    found = READER.read(text).may_isolate
    told = [(u.line, u.shift.name if u.shift else None, u.by) for u in found]
    assert told[:4] == [(1, None, None), (3, "night", "KM"), (4, "night", "Dw"), (5, "night", "TN")]
    assert told[4:] == [(6, None, None), (7, None, None)]


def test_a_line_too_long_is_shown_with_what_may_be_an_isolation_behind_its_end() -> None:
    long = f"22:40 A07 note {'word ' * 3000}"
    for there in (f"{long}isolated by KM {'word ' * 90}", f"{long[:3000]}isolatd by KM {long}"):
        (unread,) = read(there).may_isolate
        assert unread.text.startswith("22:40 A07 note word")
        assert re.search(r"isolat(e?)d by KM", unread.text)
        assert len(unread.text) < 6000


SAME = [
    "ditto",
    "Ditto.",
    "same",
    "same here",
    '"',
    "dto.",
    "too",
    "auch",
    "ditto; by RB",
    "same, KM",
]


@pytest.mark.parametrize("words", SAME)
def test_the_same_below_a_lock_is_shown(words: str) -> None:
    lines = ["day 2026-11-24 night by KM", "22:40 A07 isolated by KM", f"22:41 A08 {words}"]
    lines += ["", "# x", f"22:42 A09 {words}"]
    text = "".join(f"{line}\n" for line in lines)
    assert [u.line for u in READER.read(text).may_isolate] == [3, 6]
    for cut in range(1, len(lines)):  # so too where it is read on
        first = READER.read("".join(f"{line}\n" for line in lines[:cut]))
        rest = READER.read("".join(f"{line}\n" for line in lines[cut:]), carried=first.carried)
        assert [u.line for u in (*first.may_isolate, *rest.may_isolate)] == [3, 6]
    for line in READER.read(text).diagnostics:
        assert not HIDES.search(line.help)


@pytest.mark.parametrize(
    "above", ["stopped", "lock removed by KM", "lock seen by KM", "note asked KM", "nonsense"]
)
def test_the_same_below_another_line_is_not_shown(above: str) -> None:
    lines = ["22:40 A07 isolated by KM", f"22:41 A07 {above}", "22:42 A08 ditto", "22:43 A09 ditto"]
    assert READER.read(under_heading("\n".join(lines))).may_isolate == ()


def test_the_same_below_another_heading_is_not_shown() -> None:
    lines = ["22:40 A07 isolated by KM", "day 2026-11-25 early by RB", "06:10 A08 ditto"]
    assert READER.read(under_heading("\n".join(lines))).may_isolate == ()
