"""Folding for comparison, with the way back: words match in any form, text stays as written."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.entries import FaultCleared, FaultOpened, Note, Running, Stopped
from grammar.folding import fold, fold_word
from tests.grammar.mills import READER, under_heading

odd = st.text(
    alphabet=st.one_of(
        st.sampled_from("aäÄßſİıŉﬁǅ①Ａ７\u0301\u0308\u0327\u1160\u11a8가각\u00a0½ﷺ \tΣςK"),
        st.characters(exclude_categories=["Cs"]),
    ),
    max_size=12,
)


@given(odd)
@settings(max_examples=800)
def test_the_way_back_is_in_order_and_covers_the_line(line: str) -> None:
    folded = fold(line)
    origin = folded.origin or tuple(range(len(line) + 1))
    assert len(origin) == len(folded.text) + 1
    assert list(origin) == sorted(origin)
    assert origin[-1] == len(line)
    assert folded.span(0, len(folded.text)).start == 0
    if folded.text:
        assert folded.span(0, len(folded.text)).end == len(line)
    for start in range(len(folded.text)):
        span = folded.span(start, start + 1)
        assert 0 <= span.start < span.end <= len(line)


@given(odd)
@settings(max_examples=800)
def test_a_line_folds_like_its_words(line: str) -> None:
    assert " ".join(fold(line).text.split()) == fold_word(line)


@given(odd)
@settings(max_examples=800)
def test_forms_of_a_line_fold_alike(line: str) -> None:
    for form in ("NFC", "NFD"):
        assert fold_word(unicodedata.normalize(form, line)) == fold_word(line)


@pytest.mark.parametrize(
    "written",
    ["störung", "STÖRUNG", "sto\u0308rung", "Sto\u0308RUNG", "ｓtörung", "ſtörung"],
)
def test_a_key_word_in_any_form(written: str) -> None:
    (entry,) = READER.read(under_heading(f"22:40 A07 {written} Öl")).entries
    assert entry.clauses == (FaultOpened(text="Öl", symptom="öl"),)


@pytest.mark.parametrize("text", ["Öl", "O\u0308l", "ﬁlter ①", "ÖL  weit", "㎜ ½ ﷺ", "İ ŉ ß"])
def test_free_text_stays_as_written(text: str) -> None:
    line = f"22:40 A07 fault cleared {text}; running {text}; note {text}"
    (entry,) = READER.read(under_heading(line)).entries
    assert entry.clauses == (FaultCleared(text=text), Running(text=text), Note(text=text))
    assert entry.text == line


def test_fullwidth_signs_are_signs() -> None:
    (entry,) = READER.read(
        under_heading("２２：４０　Ａ０７　ｓｔｏｐｐｅｄ；ｒｕｎｎｉｎｇ")
    ).entries
    assert entry.clauses == (Stopped(), Running())


def test_spans_are_of_the_line_as_written() -> None:
    line = "22:40 A07 running ﷺ ﬁ; stoped"
    (diagnostic,) = READER.read(under_heading(line)).diagnostics
    assert line[diagnostic.span.start : diagnostic.span.end] == "stoped"
