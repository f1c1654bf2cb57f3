"""One loom's own screen, and the table of every loom: four columns, never one mixed status."""

from __future__ import annotations

from board.reckon.conformity import WearWord
from board.reckon.margins import WearLine
from board.reckon.summary import LoomLine, Summary
from board.show.lines import Bit, Line, Tone, columns, line, title
from board.show.moments import clock
from board.show.rows import (
    action_row,
    conflict_row,
    lock_row,
    margin_words,
    share_of_u,
    value_words,
    wear_bar,
)
from board.show.screens import CAUTION
from board.show.text import pad
from board.show.trends import trend_lines
from board.state.fleet import Isolation, Motion
from board.state.logged import Logged, in_time_order
from board.state.strikes import struck
from grammar.entries import PlaceKind, Running, Stopped, StyleSet

ISOLATE_FIRST = "Isolate and lock before hands go in; follow local rules and licensed practice."


def loom_lines(
    summary: Summary, name: str, cells: int, *, most: int = 20, charts: int = 3
) -> list[Line]:
    """Everything on record about one loom, the newest ``most`` lines of its history last."""
    item = summary.loom(name)
    blocks = [
        _head(summary, item),
        _isolation(summary, item),
        _open_things(summary, item, cells),
        _wear(summary, item, cells),
        trend_lines(summary, item, cells, charts),
        _history(summary, name, cells, most),
    ]
    return [row.fitted(cells) for block in blocks for row in block]


def _head(summary: Summary, item: LoomLine) -> list[Line]:
    state, mill = item.state, summary.snapshot.mill
    since = ""
    if state.motion_since is not None:
        since = f" since {clock(state.motion_since, summary.as_of, mill.zone)}"
    reason = f" for {state.stopped_for.value}" if state.stopped_for else ""
    text = f"  {state.motion_text}" if state.motion_text else ""
    style = f"   style {state.style}" if state.style else ""
    silent = f"   no entry for {item.silent_shifts} shifts" if item.is_silent else ""
    return [
        line(
            Bit(item.loom, Tone.STRONG),
            f"  section {item.section}  {mill.name}   {state.motion.value}{reason}{since}{text}"
            f"{style}{silent}",
        ),
        line(Bit(CAUTION, Tone.MANDATORY)),
        line(Bit(ISOLATE_FIRST, Tone.MANDATORY)),
    ]


def _isolation(summary: Summary, item: LoomLine) -> list[Line]:
    state = item.state
    if state.isolation is Isolation.NONE_RECORDED:
        return [line("isolation: none recorded, which is no proof")]
    rows = [line(Bit(f" {state.isolation.value} ", Tone.DANGER), "  do not start")]
    if state.isolation is Isolation.CONFLICT:
        rows.append(conflict_row(summary, state))
    return [*rows, *(lock_row(summary, state, lock) for lock in state.locks)]


def _open_things(summary: Summary, item: LoomLine, cells: int) -> list[Line]:
    state, zone = item.state, summary.snapshot.mill.zone
    rows: list[Line] = []
    for fault in state.faults:
        by = f"  {fault.by}" if fault.by else ""
        when = clock(fault.since, summary.as_of, zone)
        rows.append(line(Bit("FAULT  ", Tone.ABNORMAL), f"{when}  {fault.text}{by}"))
    for proof in state.proofs:
        when = clock(proof.since, summary.as_of, zone)
        part = f"{proof.at.words()}: " if proof.at else ""
        why = f" ({proof.why})" if proof.why else ""
        by = f"  job by {proof.by}" if proof.by else ""
        what = f"{part}{proof.fault.value} {proof.what}{why}{by}  since {when}"
        rows.append(line(Bit("PROOF  ", Tone.ABNORMAL), what))
    rows += [action_row(summary, action, cells) for action in item.actions]
    if not rows:
        return [line("no open fault, action or missing proof on record")]
    return [title("OPEN", "", cells), *rows]


def _wear(summary: Summary, item: LoomLine, cells: int) -> list[Line]:
    if not item.wear:
        return [title("WEAR", "nothing measured on record", cells)]
    rows = [title("WEAR", "worn so far, | limit, . uncertain", cells)]
    for wear in item.wear:
        rows.append(_wear_row(summary, wear, cells))
    cautions = {
        part.name: part.caution
        for part in summary.snapshot.mill.parts
        if part.caution and any(w.at.part == part.name for w in item.wear)
    }
    rows += [
        line(Bit(f"caution, {name}: ", Tone.MANDATORY), text) for name, text in cautions.items()
    ]
    return rows


def _wear_row(summary: Summary, wear: WearLine, cells: int) -> Line:
    quantity = summary.snapshot.mill.quantity(wear.at.part, wear.quantity)
    bar = wear_bar(wear, share_of_u(wear, quantity.new if quantity else None))
    strong = wear.word in (WearWord.PAST_LIMIT, WearWord.AT_LIMIT, WearWord.GAUGE_PAST)
    value = value_words(wear)
    said = margin_words(wear)
    if wear.word in (WearWord.NEAR_LIMIT, WearWord.WITHIN_LIMIT):
        said = f"{wear.word.value}, {said.removesuffix(' to limit')} left"
    old = ", old reading" if wear.old and wear.margin is not None else ""
    read = clock(wear.reading.when, summary.as_of, summary.snapshot.mill.zone)
    limit = f"limit {wear.limit:g}" if wear.limit is not None else ""
    more = f"  {limit}  read {read}" if cells >= 100 else ""
    return line(
        f"{pad(wear.name, 21)} {pad(value, 17 if cells >= 100 else 16)} {bar} ",
        Bit(f"{said}{old}", Tone.ABNORMAL if strong else Tone.PLAIN),
        more,
    )


def _history(summary: Summary, name: str, cells: int, most: int) -> list[Line]:
    speaking = in_time_order(x for x in summary.snapshot.entries if _speaks_of(x, name))
    marked, _ = struck(speaking, summary.as_of)
    own = [x for x in marked if x.entry.when <= summary.as_of]
    shown = own[-most:] if most > 0 else []
    head = title(f"HISTORY {len(own)}", f"the last {len(shown)}, newest at the end", cells)
    return [head, *(_history_row(summary, x) for x in shown)]


def _speaks_of(logged: Logged, loom: str) -> bool:
    """Whether an entry is the loom's own, or a group's about its motion or style."""
    place = logged.entry.place
    if place.kind is PlaceKind.LOOM:
        return place.name == loom
    about = (Stopped, Running, StyleSet)
    return loom in place.looms and any(isinstance(c, about) for c in logged.entry.clauses)


def _history_row(summary: Summary, logged: Logged) -> Line:
    entry = logged.entry
    when = clock(entry.when, summary.as_of, summary.snapshot.mill.zone)
    by = pad(entry.by or "", 3)
    words = entry.text.strip().split(None, 2)
    own = entry.place.kind is PlaceKind.LOOM
    text = words[-1] if own else " ".join(words[1:])
    struck = Bit(" [struck]", Tone.STRONG) if logged.struck_by else Bit("")
    return line(f"{pad(when, 12)} {by} {text}", struck)


def loom_table(summary: Summary, cells: int) -> list[Line]:
    """Every loom with its four columns: motion, isolation, faults and actions, wear."""
    rows = [title(f"EVERY LOOM {len(summary.looms)}", "motion, isolation, open, wear", cells)]
    for item in summary.looms:
        state = item.state
        reason = f" {state.stopped_for.value}" if state.stopped_for else ""
        since = ""
        if state.motion_since is not None and state.motion is not Motion.UNKNOWN:
            since = f" {clock(state.motion_since, summary.as_of, summary.snapshot.mill.zone)}"
        locks = ",".join(lock.by for lock in state.locks)
        isolation = state.isolation.value + (f" {locks}" if locks else "")
        counts = [
            (len(state.faults), "fault"),
            (len(item.actions), "action"),
            (len(state.proofs), "proof"),
        ]
        opened = ", ".join(f"{n} {w}{'s' if n > 1 else ''}" for n, w in counts if n) or "-"
        worst = item.worst
        wear = f"{worst.name}: {margin_words(worst)}" if worst else "nothing measured"
        silent = f"  no entry for {item.silent_shifts} shifts" if item.is_silent else ""
        text = columns(
            [(item.loom, 4), (f"{state.motion.value}{reason}{since}", 26), (isolation, 15),
             (opened, 18), (f"{wear}{silent}", max(cells - 71, 10))]
        )  # fmt: skip
        rows.append(line(text).fitted(cells))
    return rows
