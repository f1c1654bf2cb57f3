"""The fast path follows the grammar and the words; what cannot be proved is left to Lark, and said."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lark import Lark
from lark.exceptions import UnexpectedInput

from grammar import reader as reader_module
from grammar.fast_patterns import (
    Unprovable,
    _spaces,
    beginnings,
    is_separator,
    is_white_space,
    is_word_space_word,
    never_both,
    stays_in_clause,
)
from grammar.phrases import reading_grammar
from tests.grammar.fast_same import everything, readers, same_kind
from tests.grammar.lines import LINES
from tests.grammar.mills import HEADING, mill
from tests.grammar.test_hostile import BITS, best, long_line

_NOTE = "    | NOTE NOTE_TEXT -> note\n"
_SHOUT = _NOTE + "    | SHOUT TEXT -> note\n"
_ANY = "\n".join(
    [
        HEADING,
        *LINES,
        "22:40 A07 shout hello; running",
        "22:40 A07 shouting",
        "22:40 A07 note shout",
    ]
)


def other_grammar(monkeypatch: pytest.MonkeyPatch, *changes: tuple[str, str]) -> None:
    """Has every reader made from now on read another language."""
    text = reading_grammar(mill())
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    monkeypatch.setattr(reader_module, "reading_grammar", lambda _: text)


def test_a_new_clause_is_read_fast_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    other_grammar(monkeypatch, (_NOTE, _SHOUT), ("\nWS:", "\nSHOUT.40: /shout\\s+/\nWS:"))
    fast, alone = readers(mill())
    text = f"{HEADING}\n22:40 A07 shout hello; running\n22:41 A07 shout a; by RB\n"
    reading = fast.read(text)
    assert [entry.clauses[0].as_text() for entry in reading.entries] == ["note hello", "note a"]
    assert fast.read_fast == 2
    for _ in range(2):
        assert everything(fast.read(_ANY)) == everything(alone.read(_ANY))


def test_a_changed_terminal_is_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    other_grammar(monkeypatch, ("NOTE_TEXT: /(?:(?!", "NOTE_TEXT: /(?:(?!x)(?!"))
    fast, alone = readers(mill())
    text = f"{HEADING}\n22:40 A07 note axb\n22:40 A07 note abc\n"
    assert everything(fast.read(text)) == everything(alone.read(text))
    assert [entry.clauses[0].as_text() for entry in fast.read(text).entries] == ["note abc"]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        (((_NOTE, _SHOUT), ("\nWS:", "\nSHOUT.40: /(?<=\\s)shout\\s+/\nWS:")), "no form of a clause"),
        (((_NOTE, _SHOUT), ("\nWS:", '\nSHOUT.40: "shout"\nWS:')), "a plain string"),
        (
            (
                (_NOTE, _NOTE + "    | SHOUT loud -> note\n"),
                ("\nWS:", "\nloud: LOUD loud | LOUD\nLOUD: /o\\s*/\nSHOUT.40: /shout\\s+/\nWS:"),
            ),
            "without end",
        ),
        ((("%ignore WS", "%ignore WS\nDOTS: /~+/\n%ignore DOTS"),), "passed over"),
        ((("SEP: /;[;\\s]*/", "SEP: /[;|][;\\s]*/"),), "semicolon"),
        ((("PLACE: /[^\\s;]+/", "PLACE: /[^\\s;]+(?:\\s+row)?/"),), "the head of a line"),
        ((("ONWARDS: /[.,]?\\s+/", "ONWARDS: /[.,]? +/"),), "the head of a line"),
        ((("    | entry SEP -> ended\n", "    | SHOUT entry -> ended\nSHOUT: /!/\n"),), "more than its head"),
    ],
    ids=["looks back", "string", "recursion", "ignored", "separator", "place", "one blank", "before it"],
)  # fmt: skip
def test_what_cannot_be_proved_is_left_to_lark(
    changes: tuple[tuple[str, str], ...], reason: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    other_grammar(monkeypatch, *changes)
    fast, alone = readers(mill())
    assert reason in fast.alone
    assert everything(fast.read(_ANY)) == everything(alone.read(_ANY))
    assert fast.read_fast == 0


@pytest.mark.parametrize(
    ("aliases", "reason"),
    [
        ({"isolated by": ("zu; von",)}, "an isolation may reach over two clauses"),
        ({"day": ("22:40 tag",)}, "a heading may begin like the head of a line"),
    ],
)
def test_words_that_cannot_be_proved_are_left_to_lark(
    aliases: dict[str, tuple[str, ...]], reason: str
) -> None:
    fast, alone = readers(replace(mill(), aliases=aliases))
    assert fast.alone == reason
    text = f"{_ANY}\n22:40 A07 zu; von KM\n22:40 tag 2026-11-24 night\n22:40 A07 running\n"
    assert everything(fast.read(text)) == everything(alone.read(text))


def test_a_word_with_a_semicolon_costs_its_clauses_alone() -> None:
    fast, alone = readers(replace(mill(), aliases={"thread-locked": ("a;b",)}))
    assert not fast.alone
    for text in (
        _ANY,
        f"{HEADING}\n22:40 A07 a;b\n22:40 A07 running; a;b; running\n22:40 A07 note x",
    ):
        for _ in range(2):
            assert everything(fast.read(text)) == everything(alone.read(text))
    assert fast.read_fast > 0


FORMS = {
    " ".join(form.names): form
    for found in (lambda r: (*r._fast._grammar.clauses.values(), r._fast._grammar.headings))(
        readers(mill())[0]
    )
    for form in found
}


def test_every_rule_of_the_grammar_has_its_forms() -> None:
    """Rules as they are written, but for how `?` and `|` are written out by hand here."""
    rules = set(re.findall(r"->\s+(\w+)", reading_grammar(mill()))) - {"first", "further", "ended"}
    made = {form.make.__name__ for form in FORMS.values()}  # type: ignore[attr-defined]
    assert made == rules | {"heading"}


@pytest.mark.parametrize("name", sorted(FORMS))
def test_an_expression_takes_time_in_proportion(name: str) -> None:
    """Four times the text may take eight times as long, not sixteen."""
    match = FORMS[name].expression.match
    for bit in BITS:
        for start in ("", "torque ", "left tape ", "replaced ", "checked ", "note ", "open "):
            texts = [long_line(start, bit, size) for size in (4096, 16384)]
            times = [best(lambda text=text: match(text), 2) for text in texts]  # type: ignore[misc]
            assert times[1] < max(times[0] * 8, 0.006), (name, start, bit, times)


@pytest.mark.parametrize(
    ("pattern", "stays"),
    [
        (r"note[.,:]*(?![^\s;])\s*", True),
        (r"[^\s;][^;]*", True),
        (r"no\s*[0-9]+(?:[,:.](?!\S))?", True),  # looks at the ; and no farther
        (r"[^;]+(?=\s++1\s*(?:;|$))", True),
        (r"[^;]+(?=;\s*x)", False),
        (r"a;b", False),
        (r"(?:(?!x)[^\n])+", False),
        (r"\S+", False),
        (r"a(?!;*b)", False),
        (r"a(?!\S{2})", False),
    ],
)
def test_whether_a_pattern_stays_in_its_clause(pattern: str, stays: bool) -> None:
    assert stays_in_clause(pattern) is stays


@pytest.mark.parametrize("pattern", [r"(?<=a)b", r"a$", r"\bno", r"(a)\1", r"(?i:a)", "("])
def test_patterns_that_nothing_is_claimed_of(pattern: str) -> None:
    with pytest.raises(Unprovable):
        stays_in_clause(pattern)


def test_the_shapes_of_head_separator_and_white_space() -> None:
    assert is_white_space(r"\s+")
    assert not is_white_space(r"\s*")
    assert not is_white_space(r"[\s_]+")
    assert is_separator(r";[;\s]*")
    assert not is_separator(r";\s*")
    assert is_word_space_word(r"[0-9]{4}(?![\w:])\s+[^\s;]+(?:[;\s]+)?")
    assert not is_word_space_word(r"[0-9]{4}\s?\s+[^\s;]+(?:[;\s]+)?")
    assert not is_word_space_word(r"[0-9]{4}(?! )\s+[^\s;]+(?:[;\s]+)?")
    assert not is_word_space_word(r"[0-9]{4}\s+[^\s;]{1,9}(?:[;\s]+)?")


def test_how_matches_begin() -> None:
    assert beginnings(r"(?:lock\s+seen|in)[.,]?x") == {"lock see", "in.x", "in,x", "inx"}
    assert beginnings(r"(?:the\s+)*(?:left)?") == {"the ", "left", ""}
    assert beginnings(r"[^a]b") == {""}
    assert never_both(r"lock\s+seen", r"lock\s+removed")
    assert never_both(r"[0-9]+ mm", r"[a-f]x")
    assert not never_both(r"stop", r"stopped")
    assert not never_both(r"a\s*b", r"a b")
    assert not never_both(r"a\s\sb", r"a\s+b")


_PIECES = st.lists(
    st.sampled_from(["a", "b", "ab", r"\s+", r"\s*", "[ab]", "[^a]", "(?:a|bb)", "(?:ab)?", "b*", "(?!a)", "."]),
    min_size=1,
    max_size=4,
).map("".join)  # fmt: skip


@given(one=_PIECES, other=_PIECES, text=st.text(alphabet="ab \t", max_size=8))
def test_patterns_thought_apart_never_match_at_one_place(one: str, other: str, text: str) -> None:
    if never_both(one, other):
        assert not (re.match(one, text) and re.match(other, text))


def test_expressions_take_what_larks_own_lexer_takes() -> None:
    """Each form against a Lark without anything of ours, clause by clause, on damaged clauses."""
    lark = Lark(reading_grammar(mill()), parser="lalr", start=["entry"], maybe_placeholders=False)
    random = Random(9)
    clauses = [line.split(" ", 2)[2] for line in LINES if line.startswith("22:40 A07")]
    taken = 0
    for _ in range(2_000):
        clause = same_kind(random.choice(clauses), random).casefold().strip()
        if not clause or ";" in clause or "\n" in clause:
            continue
        matching = [names for names, form in FORMS.items() if form.expression.match(clause)]
        parser = lark.parse_interactive(f"22:40 a07 {clause}", start="entry")
        try:
            tokens = " ".join(token.type for token in parser.exhaust_lexer())
            parser.feed_eof()
        except UnexpectedInput:
            assert [names for names in matching if not names.startswith("DAY ")] == []
        else:
            taken += 1
            assert matching == [tokens.removeprefix("AT ")], clause
    assert taken > 700


def test_all_white_space_is_looked_at() -> None:
    assert set(_spaces()) == {c for c in map(chr, range(sys.maxunicode + 1)) if c.isspace()}
