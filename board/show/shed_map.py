"""The map of the shed: one cell a loom, section by section in walking order."""

from __future__ import annotations

from board.reckon.conformity import WearWord
from board.reckon.may_isolate import may_be_isolated
from board.reckon.summary import WAITING, LoomLine, Summary
from board.show.lines import Bit, Line, Tone, line, title
from board.show.text import pad, width, wrapped
from board.state.fleet import Isolation, Motion
from grammar.entries import Reason

LEGEND = (
    "X isolated", "M may be isolated", "! conflict", "f open fault", "w past or at limit",
    "s stopped", "- waiting", "o laid up", "? unknown", "blank: running",
)  # fmt: skip


def map_lines(summary: Summary, cells: int) -> list[Line]:
    """The map, as many looms a line as fit."""
    lines = [title("SHED", "one cell a loom", cells)]
    doubtful = may_be_isolated(summary)
    longest = max((width(x.loom) for x in summary.looms), default=1)
    for section in dict.fromkeys(x.section for x in summary.looms):
        looms = [x for x in summary.looms if x.section == section]
        room = max((cells - 4) // (longest + 3), 1)
        for i in range(0, len(looms), room):
            head = pad(section if i == 0 else "", 3)
            row = looms[i : i + room]
            bits = [bit for x in row for bit in _cell(x, longest, x.loom in doubtful)]
            lines.append(line(Bit(head, Tone.STRONG), *bits))
    return [*lines, *(line(Bit(row, Tone.FAINT)) for row in wrapped([*LEGEND], cells))]


def _cell(item: LoomLine, longest: int, doubtful: bool) -> tuple[Bit, Bit, Bit]:
    mark, tone = _mark(item, doubtful)
    return Bit(f" {pad(item.loom, longest)}", Tone.FAINT), Bit(mark, tone), Bit(" ")


def _mark(item: LoomLine, doubtful: bool) -> tuple[str, Tone]:
    """The one mark of a loom: what matters most of it.

    ``doubtful``: a line that was not understood may be an isolation of it.
    """
    state = item.state
    if state.isolation is Isolation.CONFLICT:
        return "!", Tone.DANGER
    if state.isolation is Isolation.ISOLATED:
        return "X", Tone.DANGER
    if doubtful:
        return "M", Tone.DANGER
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
