"""Every fault put into the fast path is found, by comparing with Lark and by Lark's own samples."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from grammar import fast as fast_module
from grammar import fast_forms, fast_memory
from grammar.fast import FastPath
from grammar.fast_forms import Form
from grammar.isolation_words import IsolationWords
from grammar.reader import Reader
from grammar.transform import ToEntry
from tests.grammar.fast_same import everything, same_kind
from tests.grammar.lines import LINES
from tests.grammar.mills import HEADING, mill

PROBES = (
    "22:40 A07 stopped for nothing", "22:40 A07 note a; running", "22:40 A07 note a; running; by KM",
    "22:40 A07 done no 31.; running", "22:40 A07 done no 31.", "22:40 A07 checked joint bad",
    "22:40 A07 checked joint ok", "22:40 A07 left tape +2.35 mm", "22:40 A07 left tape 2.35 mm x",
    "22:40 A07 fault left head", "22:40 A07 fault cleared left head", "22:40 A07 open no 31 x",
    "22:40 A07 open x", "22:40 A07 open x; due 2026-11-24", "22:40 A07 open x; due 2026-11-24 22:40",
    "22:40 A07 open x; due early", "22:40 A07 done no 31 smooth", "22:40 A07 dropped no 31 sold",
    "22:40 A07 torque 0.80 N.m", "22:40 A07 torque clamp 0.80 N.m", "22:40 A07 note x, isolated by KM",
    "22:40 A07 läuft; störung Maß ab", "22:40 A07 note ﬁne; running", "day 2026-11-24 night by KM x",
    "day 2026-11-24 night by KM", "23:10 A07 running; running", "9:05 A07 running; running",
    "22:40 A07 note ﬃ; running", "22:40 A07 running;unning", "22:40 A07 stopped xrunning",
    "22:40 A07 done no x31 smooth", "22:40 A07 right guide 3 gap gauge 0.30 mm enters", "22:40 A07 left tape thickness 3 mm stays out",
)  # fmt: skip


def corpus() -> str:
    random = Random(5)
    lines = [*LINES, *PROBES]
    lines += [line.replace("22:40", "05:10") for line in lines if line.startswith("22:40")]
    lines += [f"{HEADING}", *lines, *(same_kind(random.choice(lines), random) for _ in range(200))]
    lines = [line.replace("\n", " ") for line in lines]
    return "\n".join([HEADING, *lines, "day 2026-11-25 late by RB", *lines, ""])


CORPUS = corpus()
Fault = Callable[[FastPath, pytest.MonkeyPatch], None]


def forms(fast: FastPath, change: Callable[[Form], Form]) -> None:
    """Puts other forms in the place of those derived."""
    grammar = fast._grammar
    clauses = {name: tuple(map(change, found)) for name, found in grammar.clauses.items()}
    fast._grammar = replace(grammar, clauses=clauses, headings=tuple(map(change, grammar.headings)))


def only(names: tuple[str, ...], change: Callable[[Form], Form]) -> Fault:
    """A fault of one form alone."""

    def fault(fast: FastPath, _: pytest.MonkeyPatch) -> None:
        assert any(
            form.names == names for found in fast._grammar.clauses.values() for form in found
        )
        forms(fast, lambda form: change(form) if form.names == names else form)

    return fault


def expressed(change: Callable[[str], str]) -> Callable[[Form], Form]:
    """A change of a form's expression, which has to change."""

    def changed(form: Form) -> Form:
        other = replace(form)
        source = change(form.expression.pattern)
        assert source != form.expression.pattern
        other.__dict__["expression"] = re.compile(source)
        return other

    return changed


def unguarded(form: Form) -> Form:
    return replace(form, before=tuple(() for _ in form.before))


def made(change: Callable[[list[Any]], list[Any]]) -> Callable[[Form], Form]:
    return lambda form: replace(form, make=lambda tokens: form.make(change(tokens)))


def _moved_on(tokens: list[Any]) -> list[Any]:
    for token in tokens:
        token.start_pos += 1
    return tokens


def _dropped_for_done(fast: FastPath, _: pytest.MonkeyPatch) -> None:
    (dropped,) = fast._grammar.clauses["DROPPED_NUMBERED"]
    forms(fast, lambda f: replace(f, make=dropped.make) if "DONE_NUMBERED" in f.names else f)


def _one_memory(fast: FastPath, _: pytest.MonkeyPatch) -> None:
    fast._inner = fast._last


def _place_of_another(fast: FastPath, patch: pytest.MonkeyPatch) -> None:
    patch.setattr(ToEntry, "place", mill().place("A08"), raising=False)
    learn = FastPath._learn_place

    def wrong(self: FastPath, head: str) -> None:
        learn(self, head)
        self._places.update({word: mill().place("A08") for word in self._places})  # type: ignore[misc]

    patch.setattr(FastPath, "_learn_place", wrong)


def patched(target: object, name: str, value: object) -> Fault:
    return lambda _, patch: patch.setattr(target, name, value, raising=False)


def derived_with(name: str, value: object) -> Fault:
    """A proof that is not made: the expressions are derived anew without it."""

    def fault(fast: FastPath, patch: pytest.MonkeyPatch) -> None:
        patch.setattr(fast_forms, name, value)
        fast._grammar = fast_forms.derive(fast._lark, "AT", "SEP", "day")
        for found in (*fast._grammar.clauses.values(), fast._grammar.headings):
            for form in found:
                assert form.expression  # made while the proof is away

    return fault


FAULTS: dict[str, Fault] = {
    "no look-ahead before a fault": only(("FAULT", "TEXT"), unguarded),
    "no look-ahead before an action": only(("OPEN", "TEXT"), unguarded),
    "no look-ahead anywhere": lambda fast, _: forms(fast, unguarded),
    "every terminal thought apart": derived_with("never_both", lambda a, b: True),
    "a note thought to end at a ;": derived_with("stays_in_clause", lambda p: True),
    "a note ends at a ;": only(
        ("NOTE", "NOTE_TEXT"), lambda f: replace(f, whole_line=False, behind=r"(?=;?\Z)")
    ),
    "good and bad alike": only(
        ("CHECKED", "FOUND_OK"), expressed(lambda s: s.replace("|ok)", "|ok|bad)"))
    ),
    "a plus before a number": only(
        ("MEASURED", "AMOUNT"), expressed(lambda s: s.replace("[-", "[+-"))
    ),
    "any letter for a digit": only(
        ("DONE_NUMBERED", "TEXT"), expressed(lambda s: s.replace("[0-9]{1,9}", r"\w{1,9}"))
    ),
    "the rest of a clause left out": only(("STOPPED",), lambda f: replace(f, behind="")),
    "the rest of a heading left out": lambda fast, _: forms(
        fast, lambda f: replace(f, behind="") if "DATE" in f.names[1:2] else f
    ),
    "tokens in another order": only(("RUNNING", "TEXT"), made(lambda tokens: tokens[::-1])),
    "a token too few": only(("RUNNING", "TEXT"), made(lambda tokens: tokens[:1])),
    "tokens a column on": only(("RUNNING", "TEXT"), made(_moved_on)),
    "dropped for done": _dropped_for_done,
    "a remembered clause not moved": patched(
        fast_memory, "mover", lambda kind: lambda part, by: part
    ),
    "a remembered clause moved too far": patched(
        fast_memory, "mover", lambda kind: lambda part, by: fast_memory_mover(kind)(part, by + 1)
    ),
    "a time remembered": patched(
        ToEntry, "timed", property(lambda _: False, lambda _, value: None)
    ),
    "a hidden isolation thought quiet": patched(IsolationWords, "is_quiet", lambda *_: True),
    "the end of a line thought a ;": _one_memory,
    "a place taken for another": _place_of_another,
}
fast_memory_mover = fast_memory.mover


SURE = Reader(mill())
SURE.alone = "for comparing"
SURELY = everything(SURE.read(CORPUS))


def is_wrong(fast: Reader) -> bool:
    """Whether a reader reads the lines otherwise than Lark, at first or with all remembered."""
    for _ in range(2):
        reading = fast.read(CORPUS)
        if reading.notices or everything(reading) != SURELY:
            return True
    return False


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(tmp_path_factory.mktemp("grammar") / "cache")


@pytest.fixture
def fast(cache: str) -> Reader:
    reader = Reader(mill(), cache=cache)
    reader.derive()
    return reader


@pytest.fixture
def unjudged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lark takes no samples: what is found is found by comparing."""
    monkeypatch.setattr(fast_module, "judge", lambda *_: None)
    monkeypatch.setattr(fast_module, "judge_heading", lambda *_: None)


def test_without_a_fault_nothing_is_found(fast: Reader, unjudged: None) -> None:
    assert not is_wrong(fast)
    assert fast.read_fast > 300


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found_by_comparing(
    name: str, fast: Reader, unjudged: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert fast._fast is not None
    FAULTS[name](fast._fast, monkeypatch)
    assert is_wrong(fast)


@pytest.mark.parametrize(
    "name",
    [
        "tokens a column on",
        "dropped for done",
        "a token too few",
        "a remembered clause moved too far",
        "a time remembered",
        "a place taken for another",
    ],
)
def test_a_fault_is_found_by_a_sample_and_nothing_wrong_stays(
    name: str, fast: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fast_module, "EVERY", 3)
    assert fast._fast is not None
    FAULTS[name](fast._fast, monkeypatch)
    reading = fast.read(CORPUS)
    (notice,) = reading.notices
    assert notice == fast.alone
    assert "read in two ways" in notice or "could not be read fast" in notice
    assert everything(replace(reading, notices=())) == SURELY
    again = fast.read(CORPUS)  # from then on by Lark, without a word
    assert everything(again) == SURELY
    assert not again.notices
    assert fast.read_fast == 0


def test_a_fast_path_that_fails_is_left(fast: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("a fault of the program")

    monkeypatch.setattr(FastPath, "_fresh", fails)
    reading = fast.read(CORPUS)
    assert "a fault of the program" in reading.notices[0]
    assert everything(replace(reading, notices=())) == SURELY
