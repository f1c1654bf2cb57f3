"""The register: what a good one says, and the sentence, line and key of each fault.

In the rows of faults ``# <<<`` marks the line that the fault has to name, so that the expected line
is read off the text itself. The sample and the rules are those of the project's language page; the
limits are invented.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time, timedelta
from pathlib import Path

import pytest

from board.mill import Every, Interval, Limits, Mill, Stock, Tolerance, Worse
from board.record import register
from board.record.register import RegisterFault, read_register
from board.record.register_words import rank
from grammar.phrases import PHRASES, grammar_text
from grammar.reader import Reader

BASE = """\
[shed]
name = "Quillbank"
zone = "Europe/London"
languages = ["de"]
shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }

[section.A]
looms = ["A01-A24"]
speed = 480
giver = "left"

[part.tape]
sides = ["left", "right"]
words = ["band"]

[part.tape.thickness]
unit = "mm"
new = 3.10
replace_below = 2.40
tool_uncertainty = 0.03
plausible = [1.5, 4.0]
check_every = "500 h"

[part.tape.after]
torque = { value = 0.80, tolerance = "6 %", unit = "N.m" }
needs = ["thread-locked", "checked joint"]
recheck = "in 24 h"

[part.tape.caution]
text = "Springs back."

[reason.warp]
words = ["kettbruch"]

[symptom."drops weft"]
words = ["loses weft", "weft dropped"]

[style.4410]
speed = 520

[calendar]
days = "mon-sat"
closed = ["2026-12-25"]

[rules]
guard_band = 1.0
near_limit = "20 %"
repeat_window = ["200 h", "14 days"]

[words.de]
gestoppt = "stopped"
steht = "stopped"
links = "left"
gemessen = ""

[words.fr]
lame = "stopped"

[spares]
tape = { stock = 4, lead_time = "14 days" }
"""


def good(text: str) -> Mill:
    mill = read_register(text)
    assert isinstance(mill, Mill), getattr(mill, "sentence", "")
    return mill


def changed(old: str, new: str) -> str:
    assert BASE.count(old) == 1, old
    return BASE.replace(old, new)


# -- a good register -----------------------------------------------------------------------


def test_the_sample_says_what_it_says() -> None:
    mill = good(BASE)
    assert (mill.name, mill.zone.key) == ("Quillbank", "Europe/London")
    assert [(s.name, s.start, s.end) for s in mill.shifts] == [
        ("early", time(6), time(14)),
        ("late", time(14), time(22)),
        ("night", time(22), time(6)),
    ]
    (section,) = mill.sections
    assert section.looms[:2] == ("A01", "A02")
    assert section.looms[-1] == "A24"
    assert len(section.looms) == 24
    assert (section.speed, section.giver) == (480.0, "left")
    (tape,) = mill.parts
    assert (tape.name, tape.sides, tape.words) == ("tape", ("left", "right"), ("band",))
    assert tape.caution == "Springs back."
    (thickness,) = tape.quantities
    assert (thickness.name, thickness.unit, thickness.new) == ("thickness", "mm", 3.10)
    assert thickness.limits == Limits(low=2.40)
    assert thickness.limits.worse is Worse.FALLING
    assert (thickness.tool_uncertainty, thickness.plausible) == (0.03, (1.5, 4.0))
    assert thickness.check_every == Interval(amount=500.0, unit=Every.HOURS)
    assert tape.after.torque is not None
    assert (tape.after.torque.value, tape.after.torque.unit) == (0.80, "N.m")
    assert tape.after.torque.tolerance == Tolerance(share=0.06)
    assert tape.after.torque.tool_tolerance is None
    assert tape.after.needs == ("thread-locked", "checked joint")
    assert tape.after.recheck == "in 24 h"
    assert mill.style_speeds == {"4410": 520.0}
    assert mill.calendar.days == frozenset(range(6))
    assert mill.calendar.closed == {date(2026, 12, 25)}
    assert (mill.rules.guard_band, mill.rules.near_limit) == (1.0, 0.20)
    assert (mill.rules.repeat_hours, mill.rules.repeat_days) == (200.0, timedelta(days=14))
    assert mill.spares == {"tape": Stock(stock=4, lead_time=timedelta(days=14))}
    words = mill.vocabulary
    assert words.symptoms == {"drops weft": ("loses weft", "weft dropped")}
    assert words.aliases == {
        "warp": ("kettbruch",),
        "stopped": ("gestoppt", "steht"),
        "left": ("links",),
    }
    assert words.fillers == ("gemessen",)


def test_what_is_left_out_is_left_open() -> None:
    mill = good(
        '[shed]\nzone = "UTC"\nshifts = { day = "06:00-18:00" }\n[section.A]\nlooms = ["1"]'.replace(
            "day =", "days ="
        )
    )
    assert mill.parts == ()
    assert mill.calendar.days == frozenset(range(7))
    assert (mill.rules.guard_band, mill.rules.repeat_hours) == (1.0, 200.0)
    assert mill.spares == {}
    assert mill.sections[0].giver is None


@pytest.mark.parametrize("line_end", ["\n", "\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "BOM"])
def test_bytes_of_any_editor(line_end: str, mark: bytes) -> None:
    data = mark + BASE.replace("\n", line_end).encode()
    assert read_register(data) == read_register(BASE)


@pytest.mark.parametrize(
    ("written", "looms"),
    [
        ('["A01-A03"]', ("A01", "A02", "A03")),
        ('["A1-A3"]', ("A1", "A2", "A3")),
        ('["A09-A11", "B7"]', ("A09", "A10", "A11", "B7")),
        ('["1-4"]', ("1", "2", "3", "4")),
        ('["08-11"]', ("08", "09", "10", "11")),
        ('["A98-A101"]', ("A98", "A99", "A100", "A101")),
        ('["K-1-K-3"]', ("K-1", "K-2", "K-3")),
        ('["14", "A-2", "Nord"]', ("14", "A-2", "Nord")),
        ('["A01 – A02"]', ("A01", "A02")),
        ('["A01-a02"]', ("A01", "A02")),
    ],
)
def test_ranges_of_looms(written: str, looms: tuple[str, ...]) -> None:
    mill = good(changed('["A01-A24"]', written).replace("[section.A]", "[section.Hall]"))
    assert mill.looms == looms


@pytest.mark.parametrize(
    ("shifts", "count"),
    [
        ('{ early = "06:00-14:30", late = "14:00-22:00" }', 2),  # 30 minutes for the handover
        ('{ early = "06:00-15:00", late = "14:00-22:00" }', 2),  # exactly 60
        ('{ first = "22:00-07:00", second = "06:00-22:00" }', 2),
        ('{ days = "07:00-19:00" }', 1),
        ('{ all-round = "00:00-24:00" }', 1),
        ('{ late = "16:00-24:00", early = "0700 - 1500" }', 2),
        ('{ "früh" = "06:00–14:00" }', 1),
    ],
)
def test_shifts_that_can_be(shifts: str, count: int) -> None:
    text = re.sub(r"shifts = .*", lambda _: f"shifts = {shifts}", BASE)
    assert len(good(text).shifts) == count


def test_shift_until_midnight_ends_at_midnight() -> None:
    text = re.sub(r"shifts = .*", 'shifts = { late = "16:00-24:00" }', BASE)
    (late,) = good(text).shifts
    assert (late.start, late.end, late.past_midnight) == (time(16), time(0), True)


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        ("mon-sun", range(7)),
        ("mon-fri", range(5)),
        ("sat-mon", (5, 6, 0)),
        ("tue", (1,)),
        ("Mon-Wed, Friday", (0, 1, 2, 4)),
        ("sun", (6,)),
    ],
)
def test_days_of_the_calendar(days: str, expected: range | tuple[int, ...]) -> None:
    assert good(changed('"mon-sat"', f'"{days}"')).calendar.days == frozenset(expected)


@pytest.mark.parametrize(
    ("written", "tolerance"),
    [
        ("6 %", Tolerance(share=0.06)),
        ("6%", Tolerance(share=0.06)),
        ("2,5 %", Tolerance(share=0.025)),
        ("0.05 N.m", Tolerance(absolute=0.05)),
        ("5 cN.m", Tolerance(absolute=0.05)),
        ("0,05 Nm", Tolerance(absolute=0.05)),
    ],
)
def test_tolerances(written: str, tolerance: Tolerance) -> None:
    torque = good(changed('"6 %"', f'"{written}"')).parts[0].after.torque
    assert torque is not None
    assert torque.tolerance.share == pytest.approx(tolerance.share)
    assert torque.tolerance.absolute == pytest.approx(tolerance.absolute)


@pytest.mark.parametrize(
    ("written", "due"),
    [
        ("in 24 h", "in 24 h"),
        ("In  2000000  picks", "in 2000000 picks"),
        ("before start", "before start"),
        ("Late", "late"),
        ("6:00", "06:00"),
        ("in 0,5 h", "in 0,5 h"),
    ],
)
def test_rechecks(written: str, due: str) -> None:
    mill = good(changed('"in 24 h"', f'"{written}"'))
    assert mill.parts[0].after.recheck == due
    line = f"day 2026-11-24 early by KM\n07:00 A01 open recheck tape; due {due}\n"
    assert Reader(mill.vocabulary).read(line).diagnostics == ()


def test_proofs_may_be_written_in_the_mills_words() -> None:
    text = changed('["thread-locked", "checked joint"]', '["Gesichert", "geprüft die Naht"]')
    text = text.replace('links = "left"', '"geprüft" = "checked"\ngesichert = "thread-locked"')
    assert good(text).parts[0].after.needs == ("thread-locked", "checked die Naht")


def test_sides_keep_the_letters_that_the_register_gives_them() -> None:
    mill = good(changed('["left", "right"]', '["Left", "Right"]'))
    assert mill.sections[0].giver == "Left"
    assert mill.vocabulary.side_by_word["links"] == "Left"


def test_only_the_languages_named_apply() -> None:
    assert "lame" not in good(BASE).vocabulary.aliases["stopped"]
    both = good(changed('["de"]', '["de", "fr"]'))
    assert both.vocabulary.aliases["stopped"] == ("gestoppt", "steht", "lame")


def test_dates_may_stand_without_quotes() -> None:
    assert good(changed('["2026-12-25"]', "[2026-12-25]")) == good(BASE)


def test_a_band_wears_either_way() -> None:
    mill = good(changed("replace_below = 2.40", "band = [2.4, 3.6]"))
    limits = mill.parts[0].quantities[0].limits
    assert (limits.low, limits.high, limits.worse) == (2.4, 3.6, Worse.EITHER)


EXAMPLE = Path(__file__).parents[2] / "logs_example" / "shed.toml"


def test_every_alias_of_the_example_reads_as_its_key_word() -> None:
    """What the register lets pass, the grammar reads as it says: alias by alias."""
    mill = good(EXAMPLE.read_text(encoding="utf-8"))
    reader = Reader(mill.vocabulary)
    rests = {
        "stopped": "",
        "running": " slow",
        "isolated by": " KM lock 14",
        "lock seen by": " RB",
        "lock removed by": " RB",
        "fault": " left head drops weft",
        "fault cleared": " new spring",
        "replaced": " left tape",
        "adjusted": " left tape",
        "repaired": " left tape",
        "cleaned": " left tape",
        "greased": " left tape",
        "tightened": " left tape",
        "torque": " 0.80 N.m",
        "thread-locked": "",
        "checked": " joint ok",
        "batch": " 7F",
        "counter": " 100 h",
        "style": " 4410",
        "note": " noisy",
        "open": " look again",
    }
    compared = 0
    for phrase, rest in rests.items():
        for alias in mill.vocabulary.words_for(phrase):
            day = "day 2026-11-24 early by KM\n"
            own = reader.read(f"{day}07:00 A01 {phrase}{rest}\n")
            same = reader.read(f"{day}07:00 A01 {alias}{rest}\n")
            assert own.diagnostics == same.diagnostics == ()
            assert same.entries == own.entries, alias
            compared += 1
    assert compared > 15


# -- faults --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """A change to the good register, and the key and words of the fault that it makes."""

    old: str
    new: str
    key: str
    says: str


QUANTITY = "part.tape.thickness"
AFTER = "part.tape.after"
LOOMS = 'looms = ["A01-A24"]'
SHIFTS = 'shifts = { early = "06:00-14:00", late = "14:00-22:00", night = "22:00-06:00" }'
FAULTS = {
    # TOML
    "no TOML": Row('zone = "Europe/London"', "zone = Europe/London # <<<", "", "no TOML: invalid"),
    "quote not closed": Row('name = "Quillbank"', 'name = "Quillbank # <<<', "", "no TOML"),
    "key twice": Row(
        "speed = 480", "speed = 480\nspeed = 500 # <<<", "section.A.speed", "first in line 9"
    ),
    "table twice": Row("[rules]", "[part.tape] # <<<\n[rules]", "part.tape", "first in line 12"),
    # tables and keys
    "unknown table": Row("[rules]", "[ruels] # <<<", "ruels", "did you mean rules?"),
    "unknown key of the shed": Row(
        'name = "Quillbank"', 'nam = "Q" # <<<', "shed.nam", "did you mean name?"
    ),
    "unknown key of a section": Row(
        'giver = "left"', 'giverside = "left" # <<<', "section.A.giverside", "known here: looms"
    ),
    "unknown key of a part": Row(
        'words = ["band"]', 'side = ["left"] # <<<', "part.tape.side", "did you mean sides?"
    ),
    "unknown key of a quantity": Row(
        "new = 3.10", "nev = 3.10 # <<<", f"{QUANTITY}.nev", "did you mean new?"
    ),
    "unknown key after": Row(
        'recheck = "in 24 h"', "rechek = 1 # <<<", f"{AFTER}.rechek", "recheck?"
    ),
    "unknown key of a torque": Row(
        'tolerance = "6 %"', 'tolerance = "6 %", tol = 1', f"{AFTER}.torque.tol", "no such key"
    ),
    "after misspelled": Row(
        "[part.tape.after]", "[part.tape.aftr] # <<<", "part.tape.aftr", "did you mean after?"
    ),
    "unknown key of a caution": Row(
        'text = "Springs back."', 'txt = "x" # <<<', "part.tape.caution.txt", "did you mean text?"
    ),
    "unknown key of a reason": Row(
        'words = ["kettbruch"]', 'word = ["x"] # <<<', "reason.warp.word", "did you mean words?"
    ),
    "unknown key of a symptom": Row(
        'words = ["loses weft", "weft dropped"]',
        "wrds = 1 # <<<",
        'symptom."drops weft".wrds',
        "did you mean words?",
    ),
    "unknown key of a style": Row("speed = 520", "sped = 1 # <<<", "style.4410.sped", "speed?"),
    "unknown key of the calendar": Row(
        'closed = ["2026-12-25"]', "close = [] # <<<", "calendar.close", "did you mean closed?"
    ),
    "unknown key of the rules": Row(
        "guard_band = 1.0", "guardband = 1 # <<<", "rules.guardband", "did you mean guard_band?"
    ),
    "unknown key of a spare": Row(
        "stock = 4", "stck = 4", "spares.tape.stck", "did you mean stock?"
    ),
    "a value for a table": Row(
        '[reason.warp]\nwords = ["kettbruch"]',
        "[reason]\nwarp = 3 # <<<",
        "reason.warp",
        "expected a table, not the number 3",
    ),
    # the shed
    "no zone": Row('zone = "Europe/London"\n', "", "shed.zone", "is missing"),
    "no shifts": Row(f"{SHIFTS}\n", "", "shed.shifts", "is missing"),
    "unknown zone": Row(
        '"Europe/London"', '"Europe/Lodnon" # <<<', "shed.zone", "did you mean Europe/London?"
    ),
    "zone with leap seconds": Row(
        '"Europe/London"', '"right/Europe/London" # <<<', "shed.zone", "is no time zone"
    ),
    "zone is a folder": Row('"Europe/London"', '"Europe" # <<<', "shed.zone", "is no time zone"),
    "zone leads away": Row('"Europe/London"', '"../../etc/passwd" # <<<', "shed.zone", "no time"),
    "zone is a number": Row(
        '"Europe/London"', "1 # <<<", "shed.zone", "expected text in quotes, not the number 1"
    ),
    "name is empty": Row('"Quillbank"', '" " # <<<', "shed.name", "the text is empty"),
    "language without words": Row(
        'languages = ["de"]', 'languages = ["dee"] # <<<', "shed.languages", "did you mean de?"
    ),
    "second language without words": Row(
        'languages = ["de"]',
        'languages = [\n  "de",\n  "pl", # <<<\n]',
        "shed.languages",
        "write a table [words.pl]",
    ),
    "languages are no list": Row(
        'languages = ["de"]', 'languages = "de" # <<<', "shed.languages", "expected a list"
    ),
    # shifts
    "no shift": Row(SHIFTS, "shifts = {} # <<<", "shed.shifts", "no shift stands here"),
    "shift is no stretch": Row(
        SHIFTS, 'shifts = { early = "6 to 14" } # <<<', "shed.shifts.early", "like 06:00-14:00"
    ),
    "shift of no length": Row(
        SHIFTS, 'shifts = { early = "06:00-06:00" } # <<<', "shed.shifts.early", "of no length"
    ),
    "hour 25": Row(
        SHIFTS, 'shifts = { late = "17:00-25:00" } # <<<', "shed.shifts.late", "no stretch"
    ),
    "shift begins at 24": Row(
        SHIFTS, 'shifts = { late = "24:00-06:00" } # <<<', "shed.shifts.late", "no stretch"
    ),
    "shifts overlap by 61 minutes": Row(
        SHIFTS,
        'shifts.early = "06:00-14:31"\nshifts.late = "13:30-22:00" # <<<',
        "shed.shifts.late",
        "overlaps early by 61 minutes",
    ),
    "shifts overlap around midnight": Row(
        SHIFTS,
        '[shed.shifts]\nnight = "22:00-06:00"\nlate = "13:00-23:30" # <<<',
        "shed.shifts.late",
        "overlaps night by 90 minutes",
    ),
    "shift in another": Row(
        SHIFTS,
        'shifts.night = "20:00-08:00"\nshifts.x = "01:00-03:00" # <<<',
        "shed.shifts.x",
        "by 120 minutes",
    ),
    "two shifts of one name": Row(
        SHIFTS,
        'shifts.early = "06:00-14:00"\nshifts.Early = "14:00-22:00" # <<<',
        "shed.shifts.Early",
        "the shift early is called the same",
    ),
    "shift like a key word": Row(
        SHIFTS, 'shifts = { running = "06:00-14:00" } # <<<', "shed.shifts.running", "key word"
    ),
    "shift like an alias": Row(
        SHIFTS, 'shifts = { steht = "06:00-14:00" } # <<<', "shed.shifts.steht", "key word stopped"
    ),
    "shift like a time": Row(
        SHIFTS, 'shifts = { 0600 = "06:00-14:00" } # <<<', "shed.shifts.0600", "number or time"
    ),
    "shift that begins with in": Row(
        SHIFTS, 'shifts = { "in a day" = "06:00-14:00" } # <<<', 'shed.shifts."in a day"', "begins"
    ),
    # sections and looms
    "no looms": Row(LOOMS, "", "section.A.looms", "is missing"),
    "empty looms": Row(LOOMS, "looms = [] # <<<", "section.A.looms", "no looms"),
    "looms as numbers": Row(
        LOOMS, "looms = [14] # <<<", "section.A.looms", "expected text in quotes, not the number 14"
    ),
    "range backwards": Row(LOOMS, 'looms = ["A24-A01"] # <<<', "section.A.looms", "backwards"),
    "range over two letters": Row(LOOMS, 'looms = ["A1-B4"] # <<<', "section.A.looms", "no range"),
    "range too long": Row(
        LOOMS, 'looms = ["A1-A99999999999"] # <<<', "section.A.looms", "more than 5000"
    ),
    "loom of two words": Row(LOOMS, 'looms = ["A 1"] # <<<', "section.A.looms", "one word"),
    "loom with a semicolon": Row(LOOMS, 'looms = ["A;1"] # <<<', "section.A.looms", "semicolon"),
    "loom twice in one list": Row(
        LOOMS, 'looms = [\n"A01-A24",\n"A07"] # <<<', "section.A.looms", "the loom A07 stands twice"
    ),
    "loom with other zeros": Row(
        LOOMS, 'looms = ["A07", "a7"] # <<<', "section.A.looms", "A07 is in this section"
    ),
    "overlapping ranges": Row(
        "[part.tape]\n",
        '[section.B]\nlooms = ["B1-B4",\n"A20-A30", # <<<\n]\n[part.tape]\n',
        "section.B.looms",
        "is in section A already",
    ),
    "loom like a key word": Row(
        LOOMS, 'looms = ["A1",\n"Done"] # <<<', "section.A.looms", "the key word done"
    ),
    "loom like an alias": Row(LOOMS, 'looms = ["steht"] # <<<', "section.A.looms", "word stopped"),
    "loom like the shed": Row(LOOMS, 'looms = ["shed"] # <<<', "section.A.looms", "word shed"),
    "section like a key word": Row(
        "[section.A]", "[section.Note] # <<<", "section.Note", "the key word note"
    ),
    "section like a loom": Row("[section.A]", "[section.a1] # <<<", "section.a1", "the loom A01"),
    "section like a range": Row(
        "[section.A]", '[section."A01-A06"] # <<<', "section.A01-A06", "a range of looms"
    ),
    "section of two words": Row(
        "[section.A]", '[section."hall 2"] # <<<', 'section."hall 2"', "without spaces"
    ),
    "two sections of one name": Row(
        "[part.tape]\n",
        '[section.a] # <<<\nlooms = ["B1"]\n[part.tape]\n',
        "section.a",
        "the section A is called the same",
    ),
    "speed of zero": Row("speed = 480", "speed = 0 # <<<", "section.A.speed", "not above zero"),
    "speed is true": Row(
        "speed = 480", "speed = true # <<<", "section.A.speed", "a number, not true"
    ),
    "speed is text": Row(
        "speed = 480", 'speed = "480" # <<<', "section.A.speed", 'a number, not the text "480"'
    ),
    "speed is infinite": Row("speed = 480", "speed = inf # <<<", "section.A.speed", "no number"),
    "giver is no side": Row(
        'giver = "left"', 'giver = "front" # <<<', "section.A.giver", "expected left or right"
    ),
    # parts
    "part like a key word": Row(
        "[rules]", "[part.check] # <<<\n[rules]", "part.check", "already means the key word check"
    ),
    "part like an alias": Row(
        "[rules]", "[part.Steht] # <<<\n[rules]", "part.Steht", "the key word stopped"
    ),
    "part like a side": Row("[rules]", "[part.left] # <<<\n[rules]", "part.left", "the side left"),
    "part like another part": Row(
        "[rules]",
        "[part.Band] # <<<\n[rules]",
        "part.Band",
        "already means the part tape (line 14)",
    ),
    "word like another part": Row(
        "[rules]",
        '[part.clip]\nwords = ["tape"] # <<<\n[rules]',
        "part.clip.words",
        "the part tape",
    ),
    "part that begins with a key word": Row(
        "[rules]",
        '[part."running gear"] # <<<\n[rules]',
        'part."running gear"',
        'begins with "running"',
    ),
    "part that begins with a side": Row(
        "[rules]",
        '[part.clip]\nwords = ["links clip"] # <<<\n[rules]',
        "part.clip.words",
        "the side left",
    ),
    "part with a number": Row(
        "[rules]", '[part."tape 3"] # <<<\n[rules]', 'part."tape 3"', "tape with a number"
    ),
    "part word with a semicolon": Row(
        'words = ["band"]', 'words = ["a;b"] # <<<', "part.tape.words", "semicolon"
    ),
    "part word unseen": Row(
        'words = ["band"]', 'words = ["ba\\u200bnd"] # <<<', "part.tape.words", "cannot be seen"
    ),
    "part word twice": Row(
        'words = ["band"]', 'words = ["band",\n"Band"] # <<<', "part.tape.words", "here twice"
    ),
    "side twice": Row(
        'sides = ["left", "right"]', 'sides = ["left", "left"] # <<<', "part.tape.sides", "twice"
    ),
    "side like a key word": Row(
        'sides = ["left", "right"]',
        'sides = ["left", "open"] # <<<',
        "part.tape.sides",
        "the key word open",
    ),
    "side in other letters": Row(
        "[rules]",
        '[part.clip]\nsides = ["Left"] # <<<\n[rules]',
        "part.clip.sides",
        "write it as elsewhere: left",
    ),
    "caution without text": Row(
        'text = "Springs back."', "", "part.tape.caution.text", "is missing"
    ),
    # quantities
    "no unit": Row('unit = "mm"\n', "", f"{QUANTITY}.unit", "is missing"),
    "unknown unit": Row(
        'unit = "mm"', 'unit = "mmm" # <<<', f"{QUANTITY}.unit", "did you mean mm?"
    ),
    "several near": Row(
        'unit = "mm"', 'unit = "mn" # <<<', f"{QUANTITY}.unit", "known are mm um in"
    ),
    "picks for a part": Row(
        'unit = "mm"', 'unit = "picks" # <<<', f"{QUANTITY}.unit", "the use of"
    ),
    "new is no number": Row("new = 3.10", "new = nan # <<<", f"{QUANTITY}.new", "no number"),
    "new is true": Row("new = 3.10", "new = true # <<<", f"{QUANTITY}.new", "not true"),
    "new is huge": Row("new = 3.10", "new = 1e300 # <<<", f"{QUANTITY}.new", "no number"),
    "new under the limit": Row(
        "replace_below = 2.40",
        "replace_below = 3.40 # <<<",
        f"{QUANTITY}.replace_below",
        "above 3.4",
    ),
    "new at the limit": Row(
        "replace_below = 2.40",
        "replace_below = 3.1 # <<<",
        f"{QUANTITY}.replace_below",
        "new is 3.1",
    ),
    "new above the limit": Row(
        "replace_below = 2.40",
        "replace_above = 2.4 # <<<",
        f"{QUANTITY}.replace_above",
        "below 2.4",
    ),
    "two limits": Row(
        "replace_below = 2.40",
        "replace_below = 2.4\nreplace_above = 3.6 # <<<",
        f"{QUANTITY}.replace_above",
        "band = [2.4, 3.6]",
    ),
    "band beside a limit": Row(
        "replace_below = 2.40",
        "replace_below = 2.4\nband = [2, 3.6] # <<<",
        f"{QUANTITY}.band",
        "stands beside replace_below",
    ),
    "band reversed": Row(
        "replace_below = 2.40", "band = [3.6, 2.4] # <<<", f"{QUANTITY}.band", "must lie below"
    ),
    "band of one": Row("replace_below = 2.40", "band = [3.6] # <<<", f"{QUANTITY}.band", "two num"),
    "band of text": Row(
        "replace_below = 2.40", 'band = [2.4,\n"3.6"] # <<<', f"{QUANTITY}.band", "a number, not"
    ),
    "new outside the band": Row(
        "replace_below = 2.40", "band = [2.0, 3.0] # <<<", f"{QUANTITY}.band", "new is 3.1"
    ),
    "plausible reversed": Row(
        "plausible = [1.5, 4.0]", "plausible = [4.0, 1.5] # <<<", f"{QUANTITY}.plausible", "below"
    ),
    "plausible without new": Row(
        "plausible = [1.5, 4.0]", "plausible = [1.5, 3.0] # <<<", f"{QUANTITY}.plausible", "new is"
    ),
    "plausible without the limit": Row(
        "plausible = [1.5, 4.0]",
        "plausible = [2.5, 4.0] # <<<",
        f"{QUANTITY}.plausible",
        "replace_below is 2.4 and lies outside 2.5 to 4",
    ),
    "tool without uncertainty": Row(
        "tool_uncertainty = 0.03",
        "tool_uncertainty = 0 # <<<",
        f"{QUANTITY}.tool_uncertainty",
        "leave it out",
    ),
    "checked every what": Row(
        '"500 h"', '"500" # <<<', f"{QUANTITY}.check_every", "no number with its unit"
    ),
    "checked every mm": Row(
        '"500 h"', '"500 mm" # <<<', f"{QUANTITY}.check_every", "h, picks, shifts or days"
    ),
    "checked every never": Row('"500 h"', '"0 h" # <<<', f"{QUANTITY}.check_every", "out of range"),
    "ambiguous number": Row(
        '"500 h"', '"1,500 h" # <<<', f"{QUANTITY}.check_every", "decimal number or thousands"
    ),
    "two quantities of one name": Row(
        "[part.tape.after]",
        '[part.tape.Thickness] # <<<\nunit = "mm"\n[part.tape.after]',
        "part.tape.Thickness",
        "already means the thickness",
    ),
    "quantity called gauge": Row(
        "[part.tape.after]",
        '[part.tape.gauge] # <<<\nunit = "mm"\n[part.tape.after]',
        "part.tape.gauge",
        "the word gauge",
    ),
    "part like a part with its quantity": Row(
        "[part.tape.after]",
        '[part.clip]\nwords = ["band thickness"]\n[part.tape.after]',
        QUANTITY,
        '"band thickness" already means the clip',
    ),
    # after
    "torque without value": Row(
        "value = 0.80, ", "", f"{AFTER}.torque.value", "write the torque to tighten to"
    ),
    "torque without tolerance": Row(
        'tolerance = "6 %", ', "", f"{AFTER}.torque.tolerance", "is missing"
    ),
    "torque in millimetres": Row(
        '"N.m" }', '"mm" } # <<<', f"{AFTER}.torque.unit", "not of torque"
    ),
    "torque in nothing": Row('"N.m" }', '"Nn" } # <<<', f"{AFTER}.torque.unit", "is no unit"),
    "tolerance without unit": Row('"6 %"', '"6"', f"{AFTER}.torque.tolerance", 'like "6 %" or'),
    "tolerance is a number": Row('"6 %"', "6.5", f"{AFTER}.torque.tolerance", "expected text"),
    "tolerance of another kind": Row(
        '"6 %"', '"0.05 mm"', f"{AFTER}.torque.tolerance", "length, not of torque"
    ),
    "tolerance too wide": Row('"6 %"', '"0.8 N.m"', f"{AFTER}.torque.tolerance", "as large as"),
    "tolerance of all": Row('"6 %"', '"100 %"', f"{AFTER}.torque.tolerance", "no tolerance"),
    "tool tolerance": Row(
        '"6 %"', '"6 %", tool_tolerance = "4 mm"', f"{AFTER}.torque.tool_tolerance", "not of torque"
    ),
    "needs what no line could give": Row(
        '["thread-locked", "checked joint"]',
        '["thread-locked",\n"glued"] # <<<',
        f"{AFTER}.needs",
        'no line could prove "glued"',
    ),
    "needs misspelled": Row(
        '["thread-locked", "checked joint"]',
        '["thred-locked"] # <<<',
        f"{AFTER}.needs",
        "mean thread",
    ),
    "needs a check of nothing": Row(
        '["thread-locked", "checked joint"]', '["checked"] # <<<', f"{AFTER}.needs", "checked what?"
    ),
    "needs with the verdict": Row(
        '["thread-locked", "checked joint"]',
        '["checked joint ok"] # <<<',
        f"{AFTER}.needs",
        "leave the verdict out",
    ),
    "needs a torque": Row(
        '["thread-locked", "checked joint"]',
        '["torque 2 N.m"] # <<<',
        f"{AFTER}.needs",
        "by a table",
    ),
    "needs twice": Row(
        '["thread-locked", "checked joint"]',
        '["checked joint", "checked Joint"] # <<<',
        f"{AFTER}.needs",
        "here twice",
    ),
    "recheck is no due": Row('"in 24 h"', '"soon" # <<<', f"{AFTER}.recheck", "is no due"),
    "recheck at a date": Row('"in 24 h"', '"2026-12-01" # <<<', f"{AFTER}.recheck", "fixed date"),
    "recheck in days": Row('"in 24 h"', '"in 3 days" # <<<', f"{AFTER}.recheck", "h or picks"),
    "recheck in nothing": Row('"in 24 h"', '"in a while" # <<<', f"{AFTER}.recheck", "in 24 h"),
    # words
    "alias for nothing": Row(
        'steht = "stopped"', 'steht = "stoped" # <<<', "words.de.steht", "did you mean stopped?"
    ),
    "alias for a part": Row(
        'steht = "stopped"',
        'steht = "tape" # <<<',
        "words.de.steht",
        "is no key word, side or reason",
    ),
    "alias of another kind": Row(
        'steht = "stopped"', "steht = 3 # <<<", "words.de.steht", "expected a key word"
    ),
    "alias is a key word": Row(
        'steht = "stopped"', 'running = "stopped" # <<<', "words.de.running", "the key word running"
    ),
    "alias is a part": Row(
        'steht = "stopped"', 'tape = "stopped"', "part.tape", "already means the key word stopped"
    ),
    "alias means two in one table": Row(
        'steht = "stopped"', 'Gestoppt = "running" # <<<', "words.de.Gestoppt", "stopped (line 51)"
    ),
    "filler is an alias": Row(
        'gemessen = ""', 'gemessen = ""\n"LINKS" = "" # <<<', "words.de.LINKS", "the side left"
    ),
    "filler is a part": Row('gemessen = ""', 'tape = "" # <<<', "words.de.tape", "the part tape"),
    "alias with a semicolon": Row(
        'steht = "stopped"', '"a;b" = "stopped" # <<<', 'words.de."a;b"', "semicolon"
    ),
    "alias like a number": Row(
        'steht = "stopped"', '31 = "stopped" # <<<', "words.de.31", "number"
    ),
    "alias with white space": Row(
        'steht = "stopped"', '" steht" = "stopped" # <<<', 'words.de." steht"', "white space"
    ),
    "alias hidden behind another": Row(
        'steht = "stopped"',
        'geht = "running"\n"geht nicht" = "stopped" # <<<',
        'words.de."geht nicht"',
        'begins with "geht"',
    ),
    "alias made of two others": Row(
        'steht = "stopped"',
        'schloss = "lock removed"\nvon = "by"\n"schloss von" = "lock seen by" # <<<',
        'words.de."schloss von"',
        "lock removed by",
    ),
    "why of two words": Row(
        'steht = "stopped"', '"ganz alt" = "worn" # <<<', 'words.de."ganz alt"', "single one"
    ),
    "word of a reason that is an alias": Row(
        'steht = "stopped"', 'kettbruch = "weft" # <<<', "words.de.kettbruch", "key word warp"
    ),
    "unknown reason": Row(
        "[reason.warp]", "[reason.wrap] # <<<", "reason.wrap", "did you mean warp?"
    ),
    "symptom word in two": Row(
        "[rules]",
        '[symptom.lost]\nwords = ["x", "loses weft"] # <<<\n[rules]',
        "symptom.lost.words",
        "the symptom drops weft",
    ),
    "fault in a table that does not apply": Row(
        'lame = "stopped"', 'lame = "stoped" # <<<', "words.fr.lame", "did you mean stopped?"
    ),
    # the rest
    "style of two words": Row("[style.4410]", '[style."44 10"] # <<<', 'style."44 10"', "one word"),
    "style without speed": Row("speed = 520", "", "style.4410.speed", "is missing"),
    "no such weekday": Row('"mon-sat"', '"mon-sta" # <<<', "calendar.days", "did you mean sat?"),
    "closed is no date": Row(
        '["2026-12-25"]', '["2026-12-25",\n"25.12."] # <<<', "calendar.closed", "like 2026-12-25"
    ),
    "closed is no day": Row('["2026-12-25"]', '["2026-02-30"] # <<<', "calendar.closed", "no date"),
    "closed is a time": Row(
        '["2026-12-25"]', "[2026-12-25T10:00:00] # <<<", "calendar.closed", "no da"
    ),
    "closed is text": Row(
        '["2026-12-25"]', '"2026-12-25" # <<<', "calendar.closed", "expected a list"
    ),
    "guard band below zero": Row(
        "guard_band = 1.0", "guard_band = -1 # <<<", "rules.guard_band", "below"
    ),
    "near limit is no share": Row('"20 %"', '"20 h" # <<<', "rules.near_limit", "no share"),
    "near limit is all": Row('"20 %"', '"120 %" # <<<', "rules.near_limit", "no share"),
    "window of one": Row('["200 h", "14 days"]', '["200 h"] # <<<', "rules.repeat_window", "hours"),
    "window of shifts": Row(
        '["200 h", "14 days"]', '["200 h", "3 shifts"] # <<<', "rules.repeat_window", "and days"
    ),
    "spares of no part": Row(
        "tape = { stock", "tpae = { stock", "spares.tpae", "did you mean tape?"
    ),
    "spares by another word": Row("tape = { stock", "band = { stock", "spares.band", "mean tape?"),
    "half a spare": Row("stock = 4", "stock = 4.5", "spares.tape.stock", "no number of pieces"),
    "spares below zero": Row("stock = 4", "stock = -1", "spares.tape.stock", "no number of pieces"),
    "spares without stock": Row("stock = 4, ", "", "spares.tape.stock", "is missing"),
    "lead time in hours": Row(
        'lead_time = "14 days"', 'lead_time = "14 h"', "spares.tape.lead_time", "not in days"
    ),
    "lead time for ever": Row(
        'lead_time = "14 days"', 'lead_time = "99999999 days"', "spares.tape.lead_time", "in days"
    ),
}
# Rows whose fault lies in a line that the change left as it was: a piece of that line.
ELSEWHERE = {
    "no zone": "[shed]",
    "no shifts": "[shed]",
    "no looms": "[section.A]",
    "caution without text": "[part.tape.caution]",
    "no unit": "[part.tape.thickness]",
    "part like a part with its quantity": "[part.tape.thickness]",
    "alias is a part": "[part.tape]",
    "style without speed": "[style.4410]",
    "torque without value": "torque = ",
    "torque without tolerance": "torque = ",
    "spares without stock": "lead_time",
}


def line_of(text: str, piece: str) -> int:
    """The one line of a text that is a piece, or else holds it."""
    lines = text.splitlines()
    found = [n for n, line in enumerate(lines, start=1) if line == piece]
    found = found or [n for n, line in enumerate(lines, start=1) if piece in line]
    assert len(found) == 1, (piece, found)
    return found[0]


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_names_its_line_its_key_and_what_is_wrong(name: str) -> None:
    row = FAULTS[name]
    text = changed(row.old, row.new)
    piece = ELSEWHERE.get(name)
    if piece is None:  # the marked line, else the inline table that was changed
        piece = "# <<<" if "# <<<" in text else row.new
    fault = read_register(text)
    assert isinstance(fault, RegisterFault)
    assert row.says in fault.message
    assert fault.key == row.key
    assert fault.line == line_of(text, piece)


@pytest.mark.parametrize("name", FAULTS)
def test_each_message_is_one_plain_sentence(name: str) -> None:
    fault = read_register(changed(FAULTS[name].old, FAULTS[name].new), "x/shed.toml")
    assert isinstance(fault, RegisterFault)
    assert fault.message == fault.message.strip()
    assert fault.message.isprintable()
    assert not fault.message.endswith(".")
    assert len(fault.message) < 200
    key = f", {fault.key}" if fault.key else ""
    assert fault.sentence == f"x/shed.toml line {fault.line}{key}: {fault.message}"


def test_alias_with_two_meanings_in_two_languages() -> None:
    text = changed('lame = "stopped"', 'links = "running"')
    good(text)  # French does not apply
    fault = read_register(text.replace('["de"]', '["de", "fr"]'))
    assert isinstance(fault, RegisterFault)
    assert fault.sentence == (
        'shed.toml line 53, words.de.links: "links" already means the key word running (line 57)'
    )


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "shed.toml, shed: is missing; the register begins with it"),
        ("[section.A]\n", "shed.toml, shed: is missing; the register begins with it"),
        (
            '[shed]\nzone = "UTC"\nshifts = { a = "6:00-7:00" }',
            "shed.toml, section: is missing; write at least one, like [section.A] with its looms",
        ),
        ("shed = 3", "shed.toml line 1, shed: expected a table, not the number 3"),
        (
            '[shed]\nzone = "UTC"\nshifts = { a = "6:00-7:00" }\n[section]',
            "shed.toml line 4, section: no section stands here; write one like [section.A]",
        ),
    ],
)
def test_registers_without_what_every_mill_needs(text: str, sentence: str) -> None:
    fault = read_register(text)
    assert isinstance(fault, RegisterFault)
    assert fault.sentence == sentence


@pytest.mark.parametrize(
    ("data", "line", "says"),
    [
        (b'[shed]\nname = "Webm\xfchle"\n', 2, "not UTF-8"),
        (b"\xff\xfe[\x00s\x00", 1, "not UTF-8"),
        (b"[shed]\n\x00", 2, "no TOML"),
        (b"[shed]\nname = '''\n\n", 2, "no TOML: expected \"'''\""),
        (b"[shed]\nname = 1\rzone = 2", 2, "no TOML"),
        (b"a = " + b"9" * 5000, 0, "too long"),
        (b"a = " + b"[" * 100_000, 0, "too long"),
    ],
    ids=["Windows-1252", "UTF-16", "NUL", "unterminated", "CR", "digits", "nesting"],
)
def test_bytes_that_are_no_register(data: bytes, line: int, says: str) -> None:
    fault = read_register(data)
    assert isinstance(fault, RegisterFault)
    assert says in fault.message
    assert (fault.line, fault.key) == (line, "")


def test_what_cannot_be_seen_in_a_name_is_not_printed() -> None:
    text = changed("[rules]", '["\\u001b[31mx"]\n[rules]')
    fault = read_register(text)
    assert isinstance(fault, RegisterFault)
    assert fault.line == line_of(text, '["\\u001b[31mx"]')
    assert "\x1b" not in fault.sentence


def test_a_machine_without_time_zones_does_not_blame_the_register(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(register, "available_timezones", set)
    fault = read_register(changed('"Europe/London"', '"Europe/Lodnon"'))
    assert isinstance(fault, RegisterFault)
    assert fault.message == "this machine knows no time zones; install the package tzdata"


def test_a_sentence_of_the_register() -> None:
    fault = read_register(changed("replace_below = 2.40", "replace_below = 3.40"))
    assert isinstance(fault, RegisterFault)
    assert fault.sentence == (
        "shed.toml line 19, part.tape.thickness.replace_below: new is 3.1 and must lie above 3.4, "
        "or a new part is due for replacement"
    )


def test_early_may_be_a_shift_and_the_reason_of_a_replacement() -> None:
    mill = good(changed('gestoppt = "stopped"', '"früh" = "early"').replace("early =", "'früh' ="))
    assert mill.shifts[0].name == "früh"


def test_the_order_in_which_words_are_tried_is_that_of_the_grammar() -> None:
    text = grammar_text(good(BASE).vocabulary)
    for name, words in PHRASES.items():
        assert re.search(rf"^{name}\.{rank(words)}: ", text, re.MULTILINE), name


ODD_VALUES = (
    "true",
    "-1",
    "nan",
    "1e13",
    '""',
    '"\\u0000"',
    '"x;y"',
    "[]",
    "[[]]",
    '[{ a = "b" }]',
    "{}",
    "{ a = { b = 1 } }",
    "2026-12-25",
    "06:00:00",
    '"""\nx\n"""',
    f'"{"9" * 400} h"',
    '["A1-A2", 3]',
)


@pytest.mark.parametrize("value", ODD_VALUES)
def test_no_value_in_the_wrong_place_raises(value: str) -> None:
    lines = BASE.splitlines()
    refused = 0
    for index, line in enumerate(lines):
        if " = " not in line:
            continue
        key = line.split(" = ", 1)[0]
        text = "\n".join([*lines[:index], f"{key} = {value}", *lines[index + 1 :]])
        read = read_register(text)
        if isinstance(read, RegisterFault):
            refused += 1
            assert 0 <= read.line <= text.count("\n") + 1
            assert read.message
            assert read.sentence.isprintable()
    assert refused > 15


@pytest.mark.parametrize("value", ["3", "[]", "true", '"x"'])
def test_no_value_in_place_of_a_table_raises(value: str) -> None:
    heads = [line[1:-1] for line in BASE.splitlines() if line.startswith("[")]
    for head in heads:
        tables = re.split(r"(?m)^(?=\[)", BASE)
        top = head.split(".", 1)[0]
        kept = [t for t in tables if not t.startswith((f"[{top}]", f"[{top}."))]
        text = f"{head} = {value}\n" + "".join(kept)
        read = read_register(text)
        assert isinstance(read, RegisterFault), head
        assert read.key == head
        assert read.line == 1


def test_a_table_declared_after_its_key_is_told_without_the_parsers_own_words() -> None:
    fault = read_register("part.tape.words = []\n[part.tape]\n")
    assert isinstance(fault, RegisterFault)
    assert fault.sentence == "shed.toml line 2: this is no TOML: cannot declare part.tape twice"
