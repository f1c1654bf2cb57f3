"""A clause that its text takes back is refused; a text that says ``not`` further on is not."""

from __future__ import annotations

import pytest

from grammar.diagnostics import Code
from grammar.entries import Isolated, Standing
from grammar.reader import Reader
from tests.grammar.fast_same import everything, readers
from tests.grammar.mills import READER, mill, under_heading

TAKEN_BACK = [
    ("running not, brake still off", "not"),
    ("running, not yet", "not"),
    ("running but not, brake off", "not"),
    ("running couldn't be tried", "couldn't"),
    ("running won’t", "won’t"),
    ("running no longer", "no longer"),
    ("running (not)", "not"),
    ("Running NEVER", "NEVER"),
    ("läuft nicht", "nicht"),
    ("läuft noch nicht, Bremse offen", "nicht"),
    ("läuft leider immer noch nicht", "nicht"),
    ("running pas encore", "pas"),
    ("running niet", "niet"),
    ("running ikke", "ikke"),
    ("running não", "não"),
    ("stopped not", "not"),
    ("stopped for fault not", "not"),
    ("replaced left tape not done, no part in store", "not"),
    ("replaced left tape, not yet; running", "not"),
    ("adjusted brake isn't done", "isn't"),
    ("repaired left head not", "not"),
    ("cleaned brake nicht", "nicht"),
    ("fault cleared not, still knocks", "not"),
    ("fault cleared: never", "never"),
    ("fault cleared all not", "not"),
    ("replaced left tape is not done", "not"),
    ("fault cleared all; isolated by RB, not yet", "not"),
    ("done no 3 not done", "not"),
    ("done 22:50 not yet", "not"),
    ("replaced left tape; torque not 0.80 N.m", "not"),
    ("replaced left tape; torque clamp screws not at 0.80 N.m", "not at"),
    ("replaced left tape; torque couldn't reach 0.80 N.m", "couldn't"),
    ("replaced left tape; thread-locked not yet", "not"),
    ("isolated by KM not yet", "not"),
    ("running no", "no"),
    ("running - no, still down", "no"),
    ("running tomorrow", "tomorrow"),
    ("running false, was stopped", "false"),
    ("replaced left tape still to do", "still to do"),
    ("replaced left tape tomorrow, no time", "tomorrow"),
    ("replaced left tape, couldn't get the part", "couldn't"),
    ("fault cleared, still there", "still there"),
    ("fault cleared tomorrow", "tomorrow"),
    ("running not possible", "not"),
]

STANDS = [
    "running",
    "running slow, not noisy",
    "running without the note of yesterday",
    "running and not noisy",
    "replaced left tape",
    "replaced left tape, old one not worn",
    "replaced left tape worn, not broken",
    "replaced left tape non-stick",
    "replaced left tape notched",
    "fault cleared new spring, not noisy",
    "done no 3",
    "done no 3 smooth, could not be smoother",
    "fault not found, knocks",
    "open not done: left tape",
    "dropped no 3 not needed",
    "note not running",
    "replaced left tape; torque clamp screws 0.80 N.m",
    "checked joint not glued before ok",
    "isolated by KM lock 4, not the old one",
    "isolated by KM no 14",
    # what is denied is another thing than what was done
    "running not smooth",
    "running, no longer noisy",
    "running, not slow any more",
    "replaced left tape, wasn't worn",
    "replaced left tape not worn",
    "replaced left tape, not yet torqued",
    "replaced belt, has never been changed before",
    "cleaned left guide 3, isn't worn",
    "adjusted brake, not perfect",
    "done no 33, no longer needed",
    "done no 33 not by me but by TN",
    "fault cleared not sure why",
    "fault cleared never found cause",
    "running again tomorrow's style",
    "replaced left tape still good",
]


@pytest.fixture(scope="module")
def pair() -> tuple[Reader, Reader]:
    """A reader that reads fast, and one that has Lark read every line."""
    return readers(mill())


@pytest.mark.parametrize(("said", "word"), TAKEN_BACK, ids=[said for said, _ in TAKEN_BACK])
def test_a_clause_that_is_taken_back_is_refused(said: str, word: str) -> None:
    line = f"22:40 A07 {said}"
    reading = READER.read(under_heading(line + "\n"))
    (told,) = reading.diagnostics
    assert told.code is Code.NOT_UNDERSTOOD
    assert told.message.startswith(f'"{word}" takes back: ')
    assert line[told.span.start : told.span.end] == word
    assert all(entry.standing is Standing.ISOLATIONS_ONLY for entry in reading.entries)


@pytest.mark.parametrize("said", STANDS)
def test_a_text_that_denies_something_else_stays(said: str) -> None:
    reading = READER.read(under_heading(f"22:40 A07 {said}\n"))
    assert not reading.diagnostics
    assert [entry.standing for entry in reading.entries] == [Standing.WHOLE]


def test_an_isolation_that_is_taken_back_counts_and_is_told() -> None:
    reading = READER.read(under_heading("22:40 A07 isolated by KM not yet; running\n"))
    (entry,) = reading.entries
    assert [type(clause) for clause in entry.clauses] == [Isolated]
    assert entry.standing is Standing.ISOLATIONS_ONLY
    (told,) = reading.diagnostics
    assert "where this line stands in a log, its lock counts" in told.help
    assert [unread.text for unread in reading.may_isolate] == [entry.text]


@pytest.mark.parametrize("verdict", ["not yet ok", "isn't quite ok", "noch nicht i.o.", "nie ok"])
def test_a_verdict_that_is_taken_back_is_none(verdict: str) -> None:
    (told,) = READER.read(under_heading(f"22:40 A07 checked joint {verdict}\n")).diagnostics
    assert told.message.endswith("is no verdict")


def test_it_is_read_fast_as_lark_reads_it(pair: tuple[Reader, Reader]) -> None:
    fast, alone = pair
    said = [*(said for said, _ in TAKEN_BACK), *STANDS]
    text = under_heading("".join(f"22:40 A07 {words}\n22:41 A07 running\n" for words in said))
    assert everything(fast.read(text)) == everything(alone.read(text))
    assert not fast.alone
    assert everything(fast.read(text)) == everything(alone.read(text))  # what was met before


@pytest.mark.parametrize(
    "said",
    ["stopped, not enough weavers", "stopped for part, not in store", "stopped for warp no beam"],
)
def test_a_reason_of_a_stop_is_told_where_to_write(said: str) -> None:
    (told,) = READER.read(under_heading(f"22:40 A07 {said}\n")).diagnostics
    assert "takes back" not in told.message
    assert "note" in told.help
