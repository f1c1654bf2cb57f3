"""Keys out of bytes: a table of what terminals send, whole and split at every place.

Source of the sequences: xterm control sequences, "PC-Style Function Keys" and "VT220-Style
Function Keys"; rxvt's 7~ and 8~ and the Linux console's ESC [ [ A: from memory.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from board.keys import Key, KeyParser, Name

ESCAPE = Key(name=Name.ESCAPE)


def char(text: str) -> Key:
    return Key(name=Name.CHARACTER, text=text)


TABLE = [
    (b"\x1b[A", [Key(name=Name.UP)]),
    (b"\x1b[B", [Key(name=Name.DOWN)]),
    (b"\x1b[C", [Key(name=Name.RIGHT)]),
    (b"\x1b[D", [Key(name=Name.LEFT)]),
    (b"\x1bOA", [Key(name=Name.UP)]),
    (b"\x1b[1;5A", [Key(name=Name.UP)]),
    (b"\x1b[H", [Key(name=Name.HOME)]),
    (b"\x1bOH", [Key(name=Name.HOME)]),
    (b"\x1b[1~", [Key(name=Name.HOME)]),
    (b"\x1b[7~", [Key(name=Name.HOME)]),
    (b"\x1b[F", [Key(name=Name.END)]),
    (b"\x1b[4~", [Key(name=Name.END)]),
    (b"\x1b[5~", [Key(name=Name.PAGE_UP)]),
    (b"\x1b[6;2~", [Key(name=Name.PAGE_DOWN)]),
    (b"\x1b[2~\x1b[3~", [Key(name=Name.INSERT), Key(name=Name.DELETE)]),
    (b"\x1b[Z\t", [Key(name=Name.BACK_TAB), Key(name=Name.TAB)]),
    (b"\r\n", [Key(name=Name.ENTER), Key(name=Name.ENTER)]),
    (b"\x1bOM", [Key(name=Name.ENTER)]),
    (b"\x1bOq", [char("1")]),
    (b"\x7f\x08", [Key(name=Name.BACKSPACE), Key(name=Name.BACKSPACE)]),
    (b"\x0c", [Key(name=Name.CONTROL, text="l")]),
    (b"A07?", [char("A"), char("0"), char("7"), char("?")]),
    ("äß€𝄞".encode(), [char("ä"), char("ß"), char("€"), char("𝄞")]),
    # Escape and a key in one packet; the board has no Alt keys.
    (b"\x1bq", [ESCAPE, char("q")]),
    (b"\x1b\x1b[A", [ESCAPE, Key(name=Name.UP)]),
    # What is no key of the board is swallowed whole.
    (b"\x1b[15~x", [char("x")]),
    (b"\x1b[200~x\x1b[201~", [char("x")]),
    (b"\x1b[[Ax", [char("x")]),
    (b"\x1bOPx", [char("x")]),
    (b"\x1b[<0;10;20Mx", [char("x")]),
    (b"\x1b[?62;22cx", [char("x")]),
    (b"\x1b]11;rgb:0000/0000/0000\x1b\\x", [char("x")]),
    (b"\x1b]11;rgb:0000/0000/0000\x07x", [char("x")]),
    (b"\x1bP1$r0m\x1b\\x", [char("x")]),
    (b"\x1b[" + b"1" * 5000 + b"~x", [char("x")]),
    # A sequence broken off by another.
    (b"\x1b[1;\x1b[Bx", [Key(name=Name.DOWN), char("x")]),
    (b"\x1b]0;title\x1b[Bx", [Key(name=Name.DOWN), char("x")]),
    # Broken characters, and characters nobody can see.
    (b"\xc3x", [char("x")]),
    (b"\xffx\x80", [char("x")]),
    ("\x85\u200e\u202ex".encode(), [char("x")]),
    (b"\x00\x1c\x1fx", [char("x")]),
]


@pytest.mark.parametrize(("sent", "keys"), TABLE, ids=lambda value: repr(value)[:40])
def test_keys(sent: bytes, keys: list[Key]) -> None:
    assert KeyParser().feed(sent) == keys


@pytest.mark.parametrize(("sent", "keys"), TABLE[:-1], ids=lambda value: repr(value)[:40])
def test_keys_split_at_every_place(sent: bytes, keys: list[Key]) -> None:
    for place in range(1, min(len(sent), 60)):
        parser = KeyParser()
        assert parser.feed(sent[:place]) + parser.feed(sent[place:]) == keys
    parser = KeyParser()
    assert [key for code in sent for key in parser.feed(bytes([code]))] == keys


def test_a_lone_escape_is_the_escape_key_when_nothing_follows() -> None:
    parser = KeyParser()
    assert parser.feed(b"\x1b") == []
    assert parser.escape_waits
    assert parser.flush() == [ESCAPE]
    assert not parser.escape_waits
    assert parser.feed(b"x") == [char("x")]


def test_half_a_sequence_is_dropped_when_nothing_follows() -> None:
    parser = KeyParser()
    assert parser.feed(b"\x1b[1;") == []
    assert parser.sequence_waits
    assert not parser.escape_waits
    assert parser.flush() == []
    assert not parser.sequence_waits
    assert parser.feed(b"A") == [char("A")]


@given(st.binary(max_size=60), st.data())
def test_any_bytes_give_the_same_keys_however_they_are_split(
    sent: bytes, data: st.DataObject
) -> None:
    cut = data.draw(st.integers(0, len(sent)))
    whole, halves = KeyParser(), KeyParser()
    keys = whole.feed(sent)
    assert halves.feed(sent[:cut]) + halves.feed(sent[cut:]) == keys
    assert whole.flush() == halves.flush()
    assert all(len(key.text) == 1 for key in keys if key.name in (Name.CHARACTER, Name.CONTROL))
    assert all(key.text.isprintable() for key in keys)
