"""The map of the shed: one cell a loom, section by section in walking order."""

from __future__ import annotations

from board.reckon.conformity import WearWord
from board.reckon.summary import WAITING, LoomLine, Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.text import pad, width
from board.state.fleet import Isolation, Motion
from grammar.entries import Reason

LEGEND = (
    "X isolated  ! conflict  f open fault  w past or at limit  s stopped  - waiting"
    "  o laid up  ? unknown  blank: running"
)


def map_lines(summary: Summary, cells: int) -> list[Line]:
    """The map, as many looms a line as fit."""
    lines = [title("SHED", "one cell a loom", cells)]
    longest = max((width(x.loom) for x in summary.looms), default=1)
    for section in dict.fromkeys(x.section for x in summary.looms):
        looms = [x for x in summary.looms if x.section == section]
        room = max((cells - 4) // (longest + 3), 1)
        for i in range(0, len(looms), room):
            head = pad(section if i == 0 else "", 3)
            bits = [bit for x in looms[i : i + room] for bit in _cell(x, longest)]
            lines.append(line(Bit(head, Tone.STRONG), *bits))
    return [*lines, line(Bit(LEGEND, Tone.FAINT))]


def _cell(item: LoomLine, longest: int) -> tuple[Bit, Bit, Bit]:
    mark, tone = mark_of(item)
    return Bit(f" {pad(item.loom, longest)}", Tone.FAINT), Bit(mark, tone), Bit(" ")


def mark_of(item: LoomLine) -> tuple[str, Tone]:
    """The one mark of a loom: what matters most of it."""
    state = item.state
    if state.isolation is Isolation.CONFLICT:
        return "!", Tone.DANGER
    if state.isolation is Isolation.ISOLATED:
        return "X", Tone.DANGER
    if state.faults:
        return "f", Tone.ABNORMAL
    if any(
        w.word in (WearWord.PAST_LIMIT, WearWord.AT_LIMIT, WearWord.GAUGE_PAST) for w in item.wear
    ):
        return "w", Tone.ABNORMAL
    if state.motion is Motion.UNKNOWN:
        return "?", Tone.PLAIN
    if state.motion is Motion.STOPPED:
        if state.stopped_for is Reason.LAID_UP:
            return "o", Tone.FAINT
        waiting = state.stopped_for in WAITING
        return ("-" if waiting else "s"), Tone.PLAIN
    return " ", Tone.PLAIN
