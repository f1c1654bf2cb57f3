"""The grammar itself: its two forms agree, its own lexer finds Lark's tokens, ranks hold."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import pytest
from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput

from grammar import driving
from grammar.driving import Driver, can_drive
from grammar.fast_judging import Disagreed
from grammar.folding import fold
from grammar.phrases import PHRASES, grammar_text, rank, reading_grammar
from grammar.reader import Reader
from tests.grammar.lines import LINES, slips
from tests.grammar.mills import HEADING, READER, mill, plain_mill

SHAPE = (Path(__file__).parents[2] / "grammar" / "entry.lark").read_text("utf-8")


def lark(text: str, **options: object) -> Lark:
    return Lark(
        text,
        parser="lalr",
        lexer="contextual",
        start=["heading", "entry"],
        maybe_placeholders=False,
        **options,
    )


def varied(count: int, seed: int) -> list[str]:
    random = Random(seed)
    return [
        *(fold(line).text for line in LINES),
        *(fold(slips(random.choice(LINES), random)).text for _ in range(count)),
    ]


def outcome(parse: Callable[[str], object], text: str) -> object:
    """The tree with each token and where it stands, or all that an error says."""
    try:
        tree = parse(text)
    except UnexpectedInput as error:
        return said(error)
    assert isinstance(tree, Tree)
    tokens = tree.scan_values(lambda value: isinstance(value, Token))
    return tree, [(t.type, str(t), t.value, t.start_pos, t.end_pos) for t in tokens]


def said(error: Any) -> object:
    parser = error.interactive_parser
    history = [(t and (t.type, str(t), t.start_pos)) for t in error.token_history or ()]
    told = [type(error), error.pos_in_stream, error.line, error.column, history, str(error)]
    told += [getattr(error, name, None) for name in ("allowed", "expected", "accepts", "char")]
    told.append(getattr(error, "token", None))
    return told, parser.accepts(), parser.parser_state.state_stack, parser.parser_state.value_stack


@pytest.mark.parametrize("singly", [0, driving.SINGLY, 1 << 30])
@pytest.mark.parametrize("start", ["entry", "heading"])
@pytest.mark.parametrize("vocabulary", [mill(), plain_mill()], ids=["mill", "plain mill"])
def test_a_line_is_driven_through_larks_tables_as_lark_does(
    monkeypatch: pytest.MonkeyPatch, vocabulary: Any, start: str, singly: int
) -> None:
    monkeypatch.setattr(driving, "SINGLY", singly)
    own = lark(reading_grammar(vocabulary))
    assert can_drive(own)
    driver = Driver(own, start)
    lines = ["", " ", ";", "2026-11-24T22:40", HEADING, *varied(1_500, 3)]
    found = []
    for line in lines:
        folded = fold(line).text
        found.append(outcome(driver.parse, folded))
        assert found[-1] == outcome(lambda text: own.parse(text, start=start), folded), line
    kinds = {type(first) for first, *_ in found if isinstance(first, Tree | list)}
    assert len(kinds) == 2  # some lines were read, and some were not
    alone = {(state.find == state._find, state._asked <= singly) for state in driver._met.values()}
    assert ((False, False) in alone) == (singly < 1 << 30)
    assert alone <= {(True, True), (False, False)}


def test_a_terminal_that_becomes_another_is_left_to_lark() -> None:
    grammar = 'start: WORD | "end"\nWORD: /[a-z]+/\nempty: \n%ignore " "'
    assert not can_drive(Lark(grammar, parser="lalr", lexer="contextual"))
    assert not can_drive(Lark("start: WORD maybe\nmaybe: WORD |\nWORD: /a/", parser="lalr"))


def test_after_a_disagreement_lark_itself_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    reader = Reader(mill())
    reader.derive()
    before = reader._parse["entry"]

    def disagreed(*_: object) -> None:
        raise Disagreed("read in two ways")

    monkeypatch.setattr(reader._fast, "lines", disagreed)
    read = reader.read(f"{HEADING}\n22:40 A07 stopped\n")
    assert read.notices == ("read in two ways",)
    assert len(read.entries) == 1
    assert reader._parse["entry"] != before
    assert isinstance(reader._parse["entry"], partial)
    assert reader._parse["entry"].func == reader._lark.parse


def reads(parser: Lark, text: str) -> bool:
    try:
        parser.parse(text, start="entry")
    except UnexpectedInput:
        return False
    return True


@pytest.mark.parametrize("vocabulary", [mill(), plain_mill()], ids=["mill", "plain mill"])
def test_word_by_word_and_rich_grammar_accept_the_same_lines(vocabulary: object) -> None:
    rich = lark(reading_grammar(vocabulary))  # type: ignore[arg-type]
    words = lark(grammar_text(vocabulary))  # type: ignore[arg-type]
    differ = [
        line
        for line in varied(3_000, 4)
        if "\x00" not in line and reads(rich, line) != reads(words, line)
    ]
    # words may stand further apart where each is a terminal of its own: a line that only the
    # word-by-word grammar accepts is suggested and then refused, never the other way round
    assert [line for line in differ if reads(rich, line)] == []
    assert len(differ) <= 30, differ


def test_the_number_behind_a_terminal_is_its_rank() -> None:
    found = re.findall(r"^([A-Z_]+)\.(2[0-9]): ([A-Z_]+)", SHAPE, re.MULTILINE)
    ranked = [
        (name, int(number), PHRASES[first]) for name, number, first in found if first in PHRASES
    ]
    assert len(ranked) >= 18
    for name, number, words in ranked:
        # with a second key word or a number behind it a clause is tried before the shorter one
        longer = name in ("OPEN_NUMBERED", "DUE_IN")
        assert number == rank(words) + longer, name


def test_above_each_rule_stands_a_line_that_it_matches() -> None:
    rules = SHAPE.partition("// -- what a line begins with")[0]
    examples = re.findall(r"^// (.+)\n(?:heading:|entry:|clause:|    \|)", rules, re.MULTILINE)
    alternatives = re.findall(r"-> (\w+)", rules)
    assert len(examples) == len(alternatives) + 1
    tails = ("due", "for", "sealed", "by")
    for line in examples[1:4]:
        assert READER.read(f"{HEADING}\n{line}\n").entries, line
    for example in examples[4:]:
        place = "shed" if example.startswith(("handed", "taken", "sealed")) else "a07"
        before = "open x; " if example.startswith(("due", "for")) else ""
        before = "taken over by rb; " if example.startswith("sealed") else before
        before = "stopped; " if example.startswith("by ") else before
        line = f"22:40 {place} {before}{example}"
        reading = READER.read(f"{HEADING}\n{line}\n")
        assert reading.entries, (line, [d.message for d in reading.diagnostics])
        assert example.split()[0] in tails or len(reading.entries[0].clauses) == 1


def test_a_cached_grammar_reads_alike(tmp_path: Path) -> None:
    cache = str(tmp_path / "grammar.cache")
    text = "\n".join([HEADING, *LINES])
    assert Reader(mill(), cache=cache).read(text) == READER.read(text)
    assert Reader(mill(), cache=cache).read(text) == READER.read(text)
