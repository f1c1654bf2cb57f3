"""What is read fast is what Lark reads: on the example, on damaged lines, for mills of all kinds."""

from __future__ import annotations

from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest

from board.mill import Mill
from board.record.register import read_register
from grammar import reader as reader_module
from grammar.reader import LastLine, Reader
from grammar.vocabulary import PartWords, QuantityWords, Vocabulary
from tests.grammar.fast_same import differs, everything, first_difference, readers, same_kind
from tests.grammar.lines import LINES, slips
from tests.grammar.mills import HEADING, THREE_SHIFTS, mill, plain_mill, under_heading
from tests.robust.mutations import damaged

FOLDER = Path(__file__).parents[2] / "logs_example"
FILES = {path.name: path.read_bytes() for path in sorted(FOLDER.rglob("*.log"))}


def example_words() -> Vocabulary:
    register = read_register((FOLDER / "shed.toml").read_bytes())
    assert isinstance(register, Mill)
    return register.vocabulary


def odd_mill() -> Vocabulary:
    """Names that look like numbers, units, expressions and key words."""
    return Vocabulary(
        zone=ZoneInfo("Europe/Berlin"),
        shifts=THREE_SHIFTS,
        sections={"R": ("R-1", "R-2", "mm3", "1.5")},
        parts=(
            PartWords(
                name="c++ (arm)",
                sides=("left", "in"),
                words=("8", "note book", "stopped cam"),
                quantities=(
                    QuantityWords(name="in", unit="mm", words=("gap 3",)),
                    QuantityWords(name="h", unit="h"),
                ),
            ),
            PartWords(name="running gear", quantities=(QuantityWords(name="play", unit="mm"),)),
            PartWords(name="stop.motion", words=("faults",)),
        ),
        aliases={
            "stopped": ("aus", "ist aus", "st."),
            "stopped for": ("aus weil",),
            "day": ("tag",),
            "note": ("n.b.", "merke"),
            "by": ("von", "durch"),
            "isolated by": ("zu", "gesperrt von"),
            "replaced": ("ersetzt (neu)",),
            "no": ("#", "nr."),
            "left": ("li", "l"),
            "ok": ("100 %",),
            "gauge": ("lehre mm",),
        },
        fillers=("the", "die"),
    )


MILLS = {
    "mill": mill(),
    "plain": plain_mill(),
    "odd": odd_mill(),
    "Auckland": mill("Pacific/Auckland"),
}
ODD_LINES = tuple(
    f"22:40 {loom} {clause}"
    for loom in ("R-1", "mm3", "1.5", "R")
    for clause in (
        "aus", "ist aus", "st.", "aus weil warp", "stopped for warp", "n.b. a; b von KM", "zu KM",
        "gesperrt von KM; running", "left c++ (arm) in 3 mm", "li 8 3 mm", "in 8 8 gap 3 3 mm",
        "l note book 2 h 4 h", "running gear 0.3 mm", "running gear play 0.3 mm; running",
        "ersetzt (neu) l 8 worn", "open # 3 x; due early", "done nr. 3", "stop.motion", "faults x",
        "fault faults loose", "the die running gear play lehre mm 0.3 mm enters", "checked x 100 %",
        "replaced stop.motion; by RB", "stopped cam", "stopped cam in 3 mm", "note book",
    )
)  # fmt: skip
PLAIN_LINES = tuple(line.replace("A07", "14").replace("b3", "3") for line in LINES)
LINES_OF = {
    "odd": (*(line.replace("A07", "R-1") for line in LINES), *ODD_LINES),
    "plain": PLAIN_LINES,
}


@pytest.fixture(scope="module", params=MILLS)
def pair(request: pytest.FixtureRequest) -> tuple[str, tuple[Reader, Reader]]:
    made = readers(MILLS[request.param])
    assert not made[0].alone
    return request.param, made


def test_the_example_is_read_the_same_and_nearly_all_of_it_fast() -> None:
    fast, alone = readers(example_words())
    understood = 0
    for name, data in FILES.items():
        quick = fast.read(data)
        assert everything(quick) == everything(alone.read(data)), name
        assert not quick.notices
        understood += len(quick.entries)
    assert understood > 5_000
    assert fast.read_fast >= 0.98 * understood


def test_every_kind_of_line_is_read_fast(pair: tuple[str, tuple[Reader, Reader]]) -> None:
    name, (fast, alone) = pair
    for heading in (
        HEADING,
        "day 2026-11-24 early",
        "day 2026-10-25 night",
        "day 2026-04-05 night",
    ):
        before, understood = fast.read_fast, 0
        for line in LINES_OF.get(name, LINES):
            for times in range(2):  # a second time as a clause met before
                text = under_heading(line, heading)
                assert not differs(fast, alone, text), (times, heading, line)
                understood += len(alone.read(text).entries)
        # what folds to other letters is Lark's, and so is a line that is flagged or refused
        assert fast.read_fast - before >= 0.9 * understood


def test_damaged_lines_are_read_the_same(pair: tuple[str, tuple[Reader, Reader]]) -> None:
    name, (fast, alone) = pair
    random = Random(20)
    own = LINES_OF.get(name, LINES)
    before = fast.read_fast
    for _ in range(60):
        lines = [random.choice((slips, same_kind))(random.choice(own), random) for _ in range(25)]
        assert first_difference(fast, alone, [x.replace("\n", " ") for x in lines], HEADING) is None
    assert fast.read_fast - before > 150  # else nothing was put to the test


def test_damaged_files_are_read_the_same() -> None:
    pair = readers(example_words())
    random = Random(21)
    names = sorted(FILES)
    for _ in range(25):
        data = damaged(random, FILES[random.choice(names)])
        for last in LastLine:
            assert not differs(*pair, data, last)


def test_parts_of_a_file_are_read_the_same() -> None:
    fast, alone = readers(example_words())
    data = FILES["2026-10-24-night-EP.log"]
    cut = len(data) // 2
    begun, sure = fast.read(data[:cut], LastLine.GROWING), alone.read(data[:cut], LastLine.GROWING)
    assert everything(begun) == everything(sure)
    rest = data[: data.rindex(b"\n", 0, cut) + 1]
    behind = data[len(rest) :]
    assert everything(fast.read(behind, carried=begun.carried)) == everything(
        alone.read(behind, carried=sure.carried)
    )


@pytest.mark.parametrize(
    "line",
    [
        "22:40 A07 note a, isolated by KM",  # an isolation in a free text, met again and again
        "22:40 A07 running, isolated by KM; running",
        "22:40 A07 isolated by KM; isolated by RB",
        "22:40 A07 isolated by KM, isolated by RB",
        "22:40 A07 fault x; note y; isolated by KM",
        "22:40 A07 störung x, gesperrt durch KM",
        "22:40 A07 open x; due early; for RB; by KM",
        "22:40 A07 open x; due 06:00",
        "22:40 A07 done no 31.",  # a full stop before the ; and at the end
        "22:40 A07 done no 31.; running",
        "22:40 A07 done no 31,; running",
        "22:40 A07 ; stopped ;; running;",
        "22:40 A07; stopped",
        "22:40, A07 stopped",
        " 22:40\tA07\u2003stopped",
        "22:40 A07 left tape 9.9 mm; running",  # flagged
        "22:40 A07 struck 22:55 x",
        "22:40 A07 note a; by KM; by RB",
        "22:40 A07 stopped; by KM; by RB",  # two writers
        "22:40 A07 stopped; by KM; by km",
        "22:40 A07 by KM; stopped; by RB",
        "22:40 A07 by KM",
        "22:40 shed handed over KM to RB; by KM",
        "22:40 A stopped; by KM",
        "22:40 A07 note a\u037e running",  # folds to a semicolon
        "22:40 A07 läuft; note ß",
        "22:40 A07 note \u0308x; running",
        "22:40 A07 checked joint i.o..",
        "22:40 A07 checked joint ok.,",
    ],
)
def test_a_line_again_at_other_times_is_read_the_same(line: str) -> None:
    fast, alone = readers(mill())
    hours = ("22:40", "23:05", "05:59", "23:05")
    days = ("2026-11-24 night by KM", "2026-11-25 late", "2026-10-25 night", "2026-11-24 night")
    again = [line.replace("22:40", hour) for hour in hours]
    text = "\n".join(f"day {day}\n" + "\n".join(again) for day in days) + "\n"
    for _ in range(2):
        assert not differs(fast, alone, text)


def test_the_fast_path_is_derived_once_it_is_worth_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader_module, "WORTH", 100)
    reader = Reader(mill())
    reader.read(under_heading("22:40 A07 running\n" * 50))
    assert not reader.read_fast
    reader.read(under_heading("22:40 A07 running\n" * 50))
    assert reader.read_fast == 50


def test_a_reader_that_is_told_of_many_lines_derives_at_once() -> None:
    reader = Reader(mill())
    reader.expect(reader_module.WORTH)
    assert reader._fast is not None  # the first line does not wait for it
    reader.read(under_heading("22:40 A07 running\n" * 3))
    assert reader.read_fast == 3


def test_a_stop_behind_a_verdict_that_ends_with_one() -> None:
    (entry,) = readers(mill())[0].read(under_heading("22:40 A07 checked joint i.o..")).entries
    assert entry.clauses[0].as_text() == "checked joint ok"


def test_a_log_of_ever_new_clauses_is_not_kept_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("grammar.fast_memory.KEPT", 50)
    fast, alone = readers(mill())
    lines = [f"22:40 A07 note x{n % 120}; running y{n % 70}; by KM" for n in range(1_000)]
    lines += [f"22:40 A07 {' ' * (n % 60)}running" for n in range(200)]
    assert not differs(fast, alone, under_heading("\n".join(lines)))
    memories = (fast._fast._inner, fast._fast._last)  # type: ignore[union-attr]
    assert all(len(m.young) <= 50 and len(m.old) <= 50 for m in memories)
    assert all(len(parts) <= 32 for m in memories for parts in m.young.values())
