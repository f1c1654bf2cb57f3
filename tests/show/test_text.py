"""Text in cells: cleaned, cut, padded, wrapped, and in ASCII without leaving its columns.

Widths after Unicode Standard Annex 11 (East Asian Width: W and F take two cells; number from
memory), as the library rich counts them; the expected cells are counted by hand.
"""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from board.show.lines import Bit, Line, Tone, colours_of, folded, in_ascii, line, title
from board.show.plain_letters import SIGNS
from board.show.text import (
    clean,
    cut,
    fill,
    on_one_line,
    pad,
    to_ascii,
    to_ascii_in_place,
    width,
    wrapped,
)
from grammar.folding import fold_word

ANY = st.text(
    st.one_of(st.characters(), st.sampled_from("疲れ…°ßéüµ½ﬁ\u0301\u200d\u202e\x1b\t ")),
    max_size=60,
)


@pytest.mark.parametrize(
    ("text", "cleaned"),
    [
        ("plain [/] :smile:", "plain [/] :smile:"),
        ("a\tb", "a b"),
        ("\x1b[31m", "\u241b[31m"),
        ("\x00", "\u2400"),
        ("\x7f", "\u2421"),
        ("\x9b2J", "\N{REPLACEMENT CHARACTER}2J"),
        ("\u202eflip", "\N{REPLACEMENT CHARACTER}flip"),
        ("a\u200db", "a\N{REPLACEMENT CHARACTER}b"),
        ("a\u2028b", "a\N{REPLACEMENT CHARACTER}b"),
        ("müde 疲れ", "müde 疲れ"),
    ],
)
def test_what_a_terminal_could_obey_is_made_visible(text: str, cleaned: str) -> None:
    assert clean(text) == cleaned


@pytest.mark.parametrize(
    ("text", "cells", "shown"),
    [
        ("abcdef", 6, "abcdef"),
        ("abcdef", 5, "abcd~"),
        ("abc ef", 5, "abc~"),  # no blank before the mark
        ("abcdef", 1, "~"),
        ("abcdef", 0, ""),
        ("疲れた", 6, "疲れた"),
        ("疲れた", 5, "疲れ~"),
        ("疲れた", 4, "疲~"),  # half a character cannot be shown
        ("疲れた", 2, "~"),
        ("e\u0301e\u0301e\u0301", 3, "e\u0301e\u0301e\u0301"),
        ("e\u0301e\u0301e\u0301", 2, "e\u0301~"),
    ],
)
def test_cut(text: str, cells: int, shown: str) -> None:
    assert cut(text, cells) == shown


@pytest.mark.parametrize(
    ("text", "plain", "in_place"),
    [
        ("früh müde", 'fru"h mu"de', 'fru"h mu"de'),
        ("12 °C", "12 degC", "12 dC"),
        ("weiß…", "weiss...", "weiss."),
        ("疲れ", "\\u75b2\\u308c", "\\u75b2\\u308c"),
        ("10 µm", "10 um", "10 um"),
        ("e\u0301", "e'", "e'"),
        ("┤", "+", "+"),
        ("Олег, Иван", "{Oleg}, {Ivan}", "{Oleg}, {Ivan}"),
        ("ЩЁКИН", "{ShhYoKIN}", "{ShhYoKIN}"),
        ("Łukasz ÆØ", "L/ukasz A+EO/", "L/ukasz A+EO/"),
        ("Ağaoğlu", "Ag>aog>lu", "Ag>aog>lu"),
        ("\U0001f642", "\\U0001f642", "\\U0001f642"),
        ("\u241b[31m\ufffd", "?[31m?", "?[31m?"),
    ],
)
def test_ascii(text: str, plain: str, in_place: str) -> None:
    assert to_ascii(text) == plain
    assert to_ascii_in_place(text) == in_place


NAME = st.text(
    "abcehjlnostuyzACEJLOSTUZäöüåéèêñçąćęłńóśźżčďěňřšťůžőűøæœđşğıțăāßþð"
    "абвгдеёжзийклмнопрстуфхцчшщъыьэюяіїєґўјљњћђџαβγδאבגד王李",
    min_size=1,
    max_size=6,
)


@given(NAME, NAME)
@example("Müller", "Muller")
@example("Müller", "Mueller")
@example("Олег", "Oleg")
@example("цз", "ч")
@example("æ", "ae")
def test_two_people_are_two_in_ascii_too(one: str, other: str) -> None:
    """The record takes names for one that are the same but for case and Unicode form."""
    as_one = to_ascii(one).casefold() == to_ascii(other).casefold()
    assert not as_one or fold_word(one) == fold_word(other)


@given(NAME)
def test_the_same_name_in_another_unicode_form_is_written_alike(name: str) -> None:
    assert to_ascii(unicodedata.normalize("NFD", name)) == to_ascii(name)


@given(ANY, st.integers(0, 30))
def test_cut_and_pad_keep_to_their_cells(text: str, cells: int) -> None:
    text = clean(text)
    assert width(cut(text, cells)) <= cells
    assert width(pad(text, cells)) == cells
    assert width(fill(text, cells)) == max(width(text), cells)
    assert fill(text, cells).startswith(text)


@given(ANY)
def test_ascii_is_ascii_and_in_place_no_longer(text: str) -> None:
    text = clean(text)
    assert to_ascii(text).isascii()
    assert to_ascii(text).isprintable()
    assert len(to_ascii_in_place(text)) <= len(to_ascii(text))


@given(st.lists(st.text("ab疲", min_size=1, max_size=8), max_size=12), st.integers(8, 20))
def test_wrapping_drops_nothing(words: list[str], cells: int) -> None:
    rows = wrapped(words, cells, gap=" ")
    assert all(width(row) <= cells for row in rows)
    whole = [w for w in words if width(w) <= cells]
    assert [w for w in " ".join(rows).split() if not w.endswith("~")] == whole


def test_blanks_before_a_text_do_not_push_it_off() -> None:
    assert on_one_line("   \t  22:40   A07 \x0bisolated") == "22:40 A07 \u240bisolated"


# -- lines ---------------------------------------------------------------------------------


def test_a_line_that_is_cut_says_so_even_where_whole_bits_are_missing() -> None:
    row = line(Bit("abc", Tone.STRONG), "defgh", Bit("not seen", Tone.ABNORMAL))
    assert row.fitted(16) == row
    assert row.fitted(8).plain == "abcdefg~"
    assert row.fitted(3).plain == "ab~"
    assert [bit.tone for bit in row.fitted(3).bits] == [Tone.STRONG]


def shown(*rows: Line) -> list[str]:
    return [row.plain for row in in_ascii(rows)]


def test_in_ascii_what_grows_takes_from_the_blanks_behind_it() -> None:
    row = line("left tape weiß…     0.06 mm to limit  12 °C    end").fitted(80)
    assert shown(row) == ["left tape weiss...  0.06 mm to limit  12 degC  end"]


def test_in_ascii_a_full_line_keeps_its_cells_and_its_end() -> None:
    row = line("…" * 10, Bit(" seen", Tone.ABNORMAL)).fitted(15)
    assert shown(row) == ["." * 10 + " seen"]
    assert in_ascii([row])[0].bits[-1].tone is Tone.ABNORMAL


def test_in_ascii_a_name_that_needs_more_room_goes_on_below() -> None:
    row = line("A01 王*  A02 Müller*  ", Bit("A03 KM  not seen", Tone.ABNORMAL)).fitted(38)
    assert shown(row) == ['A01 \\u738b*  A02 Mu"ller*  A03 KM', "    not seen"]
    assert in_ascii([row])[1].bits[-1].tone is Tone.ABNORMAL


def test_in_ascii_a_line_that_was_cut_is_cut() -> None:
    row = line("A01 王王王王王 since yesterday").fitted(20)
    assert shown(row) == [r"A01 \u738b\u738b\u7~"]


def test_in_ascii_a_caret_stays_under_its_letters() -> None:
    rows = [line("  22:40 früh 王 tpae 3 mm"), line("                ^^^^ here")]
    assert shown(*rows) == ['  22:40 fru"h \\u738b tpae 3 mm', "                     ^^^^ here"]


@given(st.lists(ANY, max_size=4), st.integers(1, 40))
def test_no_line_is_longer_than_its_room_in_ascii_or_not(texts: list[str], cells: int) -> None:
    row = line(*texts).fitted(cells)
    assert width(row.plain) <= cells
    for made in shown(row):
        assert made.isascii()
        assert len(made) <= cells


@given(ANY, st.integers(8, 40))
def test_in_ascii_no_letter_is_left_off(text: str, cells: int) -> None:
    row = line(clean(text))
    whole = "".join(to_ascii(row.plain).split())
    room = Line(row.bits, max(cells, width(row.plain)))
    if not row.plain.endswith("~") and not set(row.plain) & set(SIGNS):
        assert "".join("".join(shown(room)).split()) == whole


@given(ANY, ANY, st.integers(20, 100))
def test_a_title_takes_its_width(left: str, right: str, cells: int) -> None:
    made = title(left, right, cells).fitted(cells)
    assert width(made.plain) <= cells


def test_a_text_is_folded_behind_its_first_words() -> None:
    rows = folded([Bit("caution: ", Tone.MANDATORY)], "hold it with the hook", 20)
    assert [row.plain for row in rows] == ["caution: hold it", "         with the", "         hook"]


def test_markup_is_never_read() -> None:
    row = Line((Bit("[/] [bold]x[/bold] :smile:"),))
    assert row.ansi(colours_of({})) == "[/] [bold]x[/bold] :smile:"
