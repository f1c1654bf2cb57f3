"""What a refused line is told to be, and that the line so written is read as it was meant."""

from __future__ import annotations

import pytest

from tests.grammar.mills import READER, under_heading

# A line of loom A07, its help, and the line that follows the help to the letter.
OTHER_SIZES = [
    ("pump pressure 1600 mbar", "write 1.6 bar", "pump pressure 1.6 bar"),
    ("pump pressure 60 mbar", "write 0.060 bar", "pump pressure 0.060 bar"),
    ("pump pressure 1234 mbar", "write 1.2340 bar", "pump pressure 1.2340 bar"),
    ("pump pressure 250000 Pa", "write 2.50000 bar", "pump pressure 2.50000 bar"),
    ("pump pressure 1,5 MPa", "write 15 bar", "pump pressure 15 bar"),
    ("left guide 2 gap 0,05 cm", "write 0.5 mm", "left guide 2 gap 0.5 mm"),
    ("left tape 0.0027 m", "write 2.7 mm", "left tape 2.7 mm"),
    ("left head force 0.03 kN", "write 30 N", "left head force 30 N"),
    ("left head force 25000 mN", "write 25 N", "left head force 25 N"),
    ("belt tension 0.055 kHz", "write 55 Hz", "belt tension 55 Hz"),
    ("torque 140 mN·m", "write 0.140 N.m", "torque 0.140 N.m"),
]

ODD_NUMBERS = [
    ("pump pressure 1e3 bar", "write 1000 bar", "pump pressure 1000 bar"),
    ("left tape 2½ mm", "write 2.5 mm", "left tape 2.5 mm"),
    ("left tape 2¾ mm", "write 2.75 mm", "left tape 2.75 mm"),
    ("left guide 2 gap ½ mm", "write 0.5 mm", "left guide 2 gap 0.5 mm"),
    ("left guide 2 gap 1/2 mm", "write 0.5 mm", "left guide 2 gap 0.5 mm"),
    ("left guide 2 gap 3e-1 mm", "write 0.3 mm", "left guide 2 gap 0.3 mm"),
    ("counter 1.8e4 h", "write 18000 h", "counter 18000 h"),
    ("counter 1,8250e4", "write 18250 h", "counter 18250 h"),
    ("left tape +2.6 mm", "write 2.6 mm", "left tape 2.6 mm"),
    ("counter +5 h", "write 5 h", "counter 5 h"),
    ("left tape ٣ mm", "write 3 mm", "left tape 3 mm"),
    ("left tape ٢.٥ mm", "write 2.5 mm", "left tape 2.5 mm"),
]

NO_QUANTITY = [
    ("pump 1600 mbar", "write 1.6 bar", "pump 1.6 bar"),
    ("belt 55 hertz", "did you mean Hz?", "belt 55 Hz"),
    ("left head 25 kg", "did you mean kgf?", "left head 25 kgf"),
    ("left tape 270 Pa", "write a unit of length like mm", "left tape 2.7 mm"),
    ("pump 60 pressure", "write it like: pump pressure 2.35 bar", "pump pressure 2.35 bar"),
    ("right guide 2 gap", "write it like: right guide gap 2.35 mm", "right guide gap 2.35 mm"),
    ("left tape 2 thicknes", "did you mean thickness?", "left tape 2 thickness 2.7 mm"),
]

BEHIND_THE_PART = [
    ("left tape replaced", "write replaced left tape", "replaced left tape"),
    ("left tape getauscht worn", "write getauscht left tape worn", "getauscht left tape worn"),
    ("heute left guide 3 adjusted", "write adjusted left guide 3", "adjusted left guide 3"),
    ("left head moved from A09", "write moved left head from A09", "moved left head from A09"),
    ("left tape torque 1.4 Nm", "write torque left tape 1.4 Nm", "torque left tape 1.4 Nm"),
    ("left head: fault drops weft", "write fault left head: drops weft", "fault left head: drops weft"),
    ("left tape checked joint ok", "write checked left tape joint ok", "checked left tape joint ok"),
    ("left tape stopped for warp", "leave left tape out", "stopped for warp"),
    ("torque 1.4 Nm left tape", "write torque left tape 1.4 Nm", "torque left tape 1.4 Nm"),
    ("thread-locked left tape 3.1 mm", "put ; before it", "thread-locked; left tape 3.1 mm"),
    (
        "left tape thread-locked",
        "write thread-locked alone, or behind its job: tightened left tape; thread-locked",
        "tightened left tape; thread-locked",
    ),
    (
        "thread-locked left tape",
        "write thread-locked alone, or behind its job: tightened left tape; thread-locked",
        "thread-locked",
    ),
    (
        "replaced left guide 3; batch 7F left guide 3",
        "write batch 7F alone, or behind its job: replaced left guide 3; batch 7F",
        "replaced left guide 3; batch 7F",
    ),
    (
        "left tape batch 7F",
        "write batch 7F alone, or behind its job: replaced left tape; batch 7F",
        "batch 7F",
    ),
]  # fmt: skip

VERBS = [
    (
        "swapped left tape",
        "a job begins with its verb: replaced, adjusted, repaired or 3 more; free text after: note",
        "replaced left tape",
    ),
    ("replcaed left tape", "did you mean replaced?", "replaced left tape"),
    ("falt left head drops weft", "did you mean fault?", "fault left head drops weft"),
    ("falut cleared left head", "did you mean fault cleared?", "fault cleared left head"),
    ("thread-lockd left tape", "did you mean thread-locked?", "thread-locked"),
    ("bacth 7F", "did you mean batch?", "batch 7F"),
    (
        "swapped left tape 2.7 mm",
        "a reading begins with its part: leave swapped out",
        "left tape 2.7 mm",
    ),
]

WITHOUT_DUE = [
    ("open recheck; in 24 h", "write due in 24 h", "open recheck; due in 24 h"),
    ("open recheck; for RB; in 24h", "write due in 24h", "open recheck; for RB; due in 24h"),
    ("open recheck; before start", "write due before start", "open recheck; due before start"),
    ("open recheck; late", "write due late", "open recheck; due late"),
    ("open recheck; 23:30", "write due 23:30", "open recheck; due 23:30"),
    (
        "stopped; in 24 h",
        "write it behind an action, like: open recheck left tape; due in 200 h",
        "stopped; open recheck left tape; due in 200 h",
    ),
]

UNLOCKED = [
    (
        "unlocked by RB",
        "write it like: lock removed by RB, or: schloss entfernt von RB",
        "lock removed by RB",
    ),
    (
        "stopped; unlock by RB",
        "write it like: lock removed by RB, or: schloss entfernt von RB",
        "stopped; lock removed by RB",
    ),
    (
        "Entsperrt durch RB",
        "write it like: lock removed by RB, or: schloss entfernt von RB",
        "schloss entfernt von RB",
    ),
    (
        "unlocked by RB for KM",
        "write it like: lock removed by RB for KM, or: schloss entfernt von RB for KM",
        "schloss entfernt von RB for KM",
    ),
    (
        "unlocked, all well",
        "write it like: lock removed by KM, or: schloss entfernt von KM",
        "lock removed by KM",
    ),
    (
        "KM unlocked",
        "write it like: lock removed by KM, or: schloss entfernt von KM; to isolate: isolated by KM",
        "lock removed by KM",
    ),
]

GAUGES = [
    (
        "left guide 1 gap 0.30 mm enters",
        "write gauge before it: gauge 0.30 mm enters",
        "left guide 1 gap gauge 0.30 mm enters",
    ),
    (
        "left tape 2,7 mm geht nicht rein",
        "write gauge before it: gauge 2,7 mm geht nicht rein",
        "left tape gauge 2,7 mm geht nicht rein",
    ),
    ("left tape 3 mm enters", "write gauge before it: gauge 3 mm enters", "left tape gauge 3 mm enters"),
    (
        "left tape 2.7 mm entres",
        "write it like: gauge 2.7 mm enters, or: gauge 2.7 mm stays out",
        "left tape gauge 2.7 mm enters",
    ),
    ("left tape 2.7 mm stays out.", "write gauge before it: gauge 2.7 mm stays out.", "left tape gauge 2.7 mm stays out."),
]  # fmt: skip


def read(clause: str) -> tuple[str, str]:
    """What a line is told, and what it says where it is read."""
    reading = READER.read(under_heading(f"22:40 A07 {clause}"))
    said = "; ".join(c.as_text() for entry in reading.entries for c in entry.clauses)
    return "; ".join(d.help for d in reading.diagnostics), said


@pytest.mark.parametrize(
    ("clause", "help", "followed"),
    OTHER_SIZES
    + ODD_NUMBERS
    + NO_QUANTITY
    + BEHIND_THE_PART
    + VERBS
    + WITHOUT_DUE
    + UNLOCKED
    + GAUGES,
)
def test_a_help_that_is_followed(clause: str, help: str, followed: str) -> None:
    assert read(clause)[0] == help
    told, said = read(followed)
    assert not told or told.startswith("measure again"), told
    assert said


@pytest.mark.parametrize(
    ("clause", "help"),
    [
        ("pump pressure 1.234 Pa", "write it in bar"),  # a thousand or one
        ("pump pressure 3 mpa", "write it in bar"),  # capitals alone tell which
        ("pump pressure 3 atm", "write it in bar"),  # not told exactly
        ("brake angle 0.5 rad", "write it in deg"),
        ("left tape thickness 3 kN", "write a unit of length like mm"),
        ("left tape thickness 2.7 µbar", "write a unit of length like mm"),
    ],
)
def test_a_unit_at_another_scale_is_never_given_the_old_number(clause: str, help: str) -> None:
    assert read(clause) == (help, "")


@pytest.mark.parametrize(
    ("clause", "help"),
    [
        ("left tape thickness 2.7 mn", "did you mean mm?"),
        ("left head force 25 kg", "did you mean kgf?"),
        ("left tape thickness 0.1 inches", "did you mean in?"),
        ("belt tension 55 hertz", "did you mean Hz?"),
        ("torque 3 kg", "write a unit like N.m"),
        ("counter 18250 hours", "did you mean h?"),
    ],
)
def test_only_a_unit_of_the_right_kind_is_near(clause: str, help: str) -> None:
    assert read(clause) == (help, "")


@pytest.mark.parametrize(
    ("clause", "help"),
    [
        ("brake angle 30", "write 30 deg"),
        ("brake lining 3,9", "write 3,9 mm"),
        ("brake angle 30 degrees", "did you mean deg?"),
        ("brake angle 30 grad", "write a unit like deg"),
        ("brake 30", "write it like: brake angle 2.35 deg, or: brake lining 2.35 mm"),
        ("right guide 2 0.3", "write it like: right guide gap 2.35 mm, or: right guide side play 2.35 mm"),
        ("right tape", "write it like: right tape thickness 2.35 mm; a job begins with its verb, like: replaced"),
        ("brake 30 grad", "write it like: brake angle 2.35 deg, or: brake lining 2.35 mm"),
        ("frame 3", "put it after: note"),
    ],
)  # fmt: skip
def test_a_reading_without_its_unit_is_told_the_unit_of_its_quantity(
    clause: str, help: str
) -> None:
    assert read(clause) == (help, "")


@pytest.mark.parametrize("number", ["2 1/2", "2 ½", "2⅓", "1/0"])
def test_a_fraction_that_is_not_plain_is_not_guessed_at(number: str) -> None:
    assert read(f"left tape {number} mm") == ("write it as one decimal number, like 2.35", "")


def test_a_line_that_also_isolates_is_not_told_to_take_the_lock_off() -> None:
    told, _ = read("unlocked by KM, isolated by RB")
    assert told == "write the isolation and the rest as two lines"


@pytest.mark.parametrize(
    ("line", "range"),
    [
        ("A01 isolated by KM; A02 isolated by KM", False),
        ("A01 A02 isolated by KM", False),
        ("A01, A02 isolated by KM", False),
        ("A01+A02 replaced left tape", False),
        ("A01 stopped; A02 stopped", False),
        ("A01, A02 stopped", True),
        ("A01 and A02 gestoppt", True),
        ("A01,A02,A03 open grease", True),
    ],
)
def test_a_range_is_offered_only_for_what_may_be_said_of_one(line: str, range: bool) -> None:
    reading = READER.read(under_heading(f"22:40 {line}"))
    one_each = "write one line for each loom"
    both = "write a range like A01-A02, or one line for each loom"
    assert [d.help for d in reading.diagnostics] == [both if range else one_each]


EVERY = "write a loom of the register: A01 to A24 or B01 to B24"
SECTION_A = "section A has A01 to A24"


@pytest.mark.parametrize(
    ("line", "help"),
    [
        ("C01 isolated by KM", "did you mean A01 or B01?"),
        ("A99 isolated by KM", "did you mean A09 or A19?"),
        ("A27 isolated by KM", EVERY),
        ("A27 gesperrt durch KM", EVERY),
        ("A27 stopped", EVERY),
        ("A071 stopped", "did you mean A01 or A07?"),
        ("C stopped", EVERY),
        ("AA07 stopped", "did you mean A07?"),
        ("A14 moved left head from B", "write the one loom that is meant"),
        ("A14 moved left head from A01-A03", "write the one loom that is meant"),
        ("A14 moved left head from C14", "did you mean A14 or B14?"),
        ("A14 moved left head from C", EVERY),
        ("A01-03 stopped", "write A01-A03"),
        ("a1-3 stopped", "write A01-A03"),
        ("A03-1 stopped", "write A01-A03"),
        ("A01-A99 stopped", f"{SECTION_A}: write it like A01-A24"),
        ("A03–99 stopped", f"{SECTION_A}: write it like A03-A24"),
        ("A24-A25 stopped", SECTION_A),
        ("A20-B3 stopped", "write one line for each section"),
        ("A99-A01 stopped", EVERY),
        ("Section A stopped", "leave Section out: A"),
        ("section A: stopped", "leave section out: A"),
        ("loom A07 isolated by KM", "leave loom out: A07"),
        ("loom C07 stopped", EVERY),
        ("A07- stopped", "did you mean A07?"),
        ("sheed stopped", "did you mean shed?"),
        ("webssal stopped", "did you mean websaal?"),
    ],
)
def test_a_place_that_the_register_has_not(line: str, help: str) -> None:
    reading = READER.read(under_heading(f"22:40 {line}"))
    assert [d.help for d in reading.diagnostics] == [help]


def test_a_section_in_place_of_a_loom_is_not_said_to_be_missing() -> None:
    reading = READER.read(under_heading("22:40 A14 moved left head from B"))
    assert [d.message for d in reading.diagnostics] == ["B is no single loom"]


@pytest.mark.parametrize("clause", ["replaced left and right head", "left & right tape 2.7 mm"])
def test_a_word_between_two_sides_is_no_part(clause: str) -> None:
    assert read(clause)[0] == "write one clause for each side"
