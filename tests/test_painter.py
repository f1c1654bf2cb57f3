"""Painting: an independent terminal emulator (pyte) must show exactly the lines asked for."""

import pyte
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from board.painter import Painter

WIDTH, HEIGHT = 12, 5


class Emulator:
    def __init__(self, width: int = WIDTH, height: int = HEIGHT) -> None:
        self.screen = pyte.Screen(width, height)
        self.stream = pyte.Stream(self.screen)

    def show(self, text: str) -> list[str]:
        # pyte (0.8.2) knows no synchronized updates; both marks set and reset a private mode.
        self.stream.feed(text)
        return [line.rstrip() for line in self.screen.display]


def test_the_first_frame_covers_whatever_was_there() -> None:
    emulator = Emulator()
    emulator.show("\r\n".join(["garbage" * 2] * HEIGHT))
    assert emulator.show(Painter().frame(["one", "two"], WIDTH, HEIGHT)) == [
        "one",
        "two",
        "",
        "",
        "",
    ]


def test_only_changed_lines_are_sent() -> None:
    painter = Painter()
    painter.frame(["one", "two", "three"], WIDTH, HEIGHT)
    sent = painter.frame(["one", "2", "three"], WIDTH, HEIGHT)
    assert sent == "\x1b[?2026h\x1b[2;1H2\x1b[0m\x1b[K\x1b[?2026l"
    assert painter.frame(["one", "2", "three"], WIDTH, HEIGHT) == ""


def test_nothing_is_blanked_before_it_is_written() -> None:
    painter = Painter()
    painter.frame(["one", "two"], WIDTH, HEIGHT)
    for lines in (["1", "2", "3"], ["x"], ["a" * WIDTH]):
        sent = painter.frame(lines, WIDTH, HEIGHT)
        assert "\x1b[2J" not in sent
        erased = sent.find("\x1b[K")
        assert erased == -1 or sent.index(lines[0]) < erased


@pytest.mark.parametrize(
    "line", ["x" * WIDTH, "ä" * WIDTH, "漢" * (WIDTH // 2), "\x1b[1m" + "x" * WIDTH]
)
def test_the_last_column_is_kept(line: str) -> None:
    """Clearing to the end of the line with the cursor on the last column takes its character.

    Common practice among terminals (xterm and its kin), no source; pyte does not imitate it, so
    what is sent is looked at, too.
    """
    sent = Painter().frame([line], WIDTH, HEIGHT)
    assert "\x1b[K" not in sent
    assert Emulator().show(sent)[0].replace(" ", "") == line.replace("\x1b[1m", "")


def test_a_full_screen_does_not_scroll() -> None:
    emulator, painter = Emulator(), Painter()
    lines = [f"{number} {'x' * (WIDTH - 2)}" for number in range(HEIGHT)]
    assert emulator.show(painter.frame(lines, WIDTH, HEIGHT)) == lines
    assert emulator.show(painter.frame([*lines, "too much"], WIDTH, HEIGHT)) == lines


def test_a_new_size_is_painted_whole() -> None:
    painter = Painter()
    painter.frame(["one"], WIDTH, HEIGHT)
    assert "one" in painter.frame(["one"], WIDTH + 1, HEIGHT)
    assert painter.frame(["one"], WIDTH + 1, HEIGHT) == ""
    painter.forget()
    assert "one" in painter.frame(["one"], WIDTH + 1, HEIGHT)


def test_a_style_does_not_leak_into_the_next_line() -> None:
    emulator = Emulator()
    emulator.show(Painter().frame(["\x1b[1mbold", "plain"], WIDTH, HEIGHT))
    assert emulator.screen.buffer[0][0].bold
    assert not emulator.screen.buffer[1][0].bold


def test_control_characters_do_no_harm() -> None:
    emulator = Emulator()
    shown = emulator.show(Painter().frame(["a\x1b[2Jb\nc", "d\x9b1me\x07\x7f", "f"], 20, HEIGHT))
    assert shown[:3] == ["a?[2Jb?c", "d?1me??", "f"]


LINES = st.lists(st.text(st.sampled_from("ab ä漢=|"), max_size=6), max_size=HEIGHT + 2)


@settings(max_examples=60, deadline=None)
@given(st.lists(LINES, min_size=1, max_size=6))
def test_after_any_series_of_frames_the_terminal_shows_the_last(frames: list[list[str]]) -> None:
    emulator, painter, fresh = Emulator(), Painter(), Emulator()
    for lines in frames:
        shown = emulator.show(painter.frame(lines, WIDTH, HEIGHT))
    assert shown == fresh.show(Painter().frame(frames[-1], WIDTH, HEIGHT))
    for row, line in enumerate(frames[-1][:HEIGHT]):
        assert shown[row].replace(" ", "") == line.replace(" ", "")
    assert all(not line for line in shown[len(frames[-1]) :])
