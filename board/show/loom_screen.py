"""One loom's own screen, and the table of every loom: four columns, never one mixed status."""

from __future__ import annotations

from board.reckon.conformity import WearWord
from board.reckon.margins import WearLine
from board.reckon.may_isolate import looms_named, may_be_isolated
from board.reckon.summary import LoomLine, Summary
from board.show.lines import Bit, Line, Tone, columns, folded, line, title
from board.show.may_rows import may_rows
from board.show.measures import plain
from board.show.moments import clock
from board.show.must_see import caution_lines, lock_rows, removed_rows
from board.show.rows import (
    INSIDE,
    action_row,
    conflict_row,
    loom_cell,
    margin_words,
    share_of_u,
    signed_margin,
    value_words,
    wear_bar,
)
from board.show.text import clean, fill, width, wrapped
from board.show.trends import trend_lines
from board.state.fleet import Isolation, MayIsolate, Motion
from board.state.logged import Logged
from board.state.written import of_loom
from grammar.entries import PlaceKind

MAY_BE_ISOLATED = "may be isolated"
ISOLATE_FIRST = "Isolate and lock before hands go in; follow local rules and licensed practice."


def loom_lines(
    summary: Summary, name: str, cells: int, *, most: int = 20, charts: int = 3, live: bool = False
) -> list[Line]:
    """Everything on record about one loom, the newest ``most`` lines of its history last.

    ``live``: on the live board, which takes no options: the command that draws all parts is named.
    """
    item = summary.loom(name)
    command = f"loomslate loom {name} " if live else ""
    blocks = [
        _head(summary, item, cells),
        _isolation(summary, item, cells),
        _open_things(summary, item, cells),
        _wear(summary, item, cells),
        trend_lines(summary, item, cells, charts, f"{command}--charts 99"),
        _history(summary, name, cells, most),
    ]
    return [row.fitted(cells) for block in blocks for row in block]


def _head(summary: Summary, item: LoomLine, cells: int) -> list[Line]:
    state, mill = item.state, summary.snapshot.mill
    since = ""
    if state.motion_since is not None:
        since = f" since {clock(state.motion_since, summary.as_of, mill.zone)}"
    reason = f" for {state.stopped_for.value}" if state.stopped_for else ""
    text = f"  {state.motion_text}" if state.motion_text else ""
    pieces = [
        f"{item.loom}  section {item.section}  {mill.name}",
        f"{state.motion.value}{reason}{since}{text}",
        *([f"style {state.style}"] if state.style else []),
        *([item.silence] if item.is_silent else []),
    ]
    first, *others = wrapped([clean(piece) for piece in pieces], cells, gap="   ")
    own = len(clean(item.loom))
    return [
        line(Bit(first[:own], Tone.STRONG), first[own:]),
        *(line(row) for row in others),
        *caution_lines(cells),
        *folded([], ISOLATE_FIRST, cells, Tone.MANDATORY),
    ]


def _isolation(summary: Summary, item: LoomLine, cells: int) -> list[Line]:
    state = item.state
    removed = removed_rows(summary, state, cells)
    own = tuple(m for m in summary.may_isolate if _may_name(summary, m, item.loom))
    doubtful = may_rows(summary, own, cells, short=False)
    if state.isolation is Isolation.NONE_RECORDED:
        none = folded([], "isolation: none recorded, which is no proof", cells)
        return [*none, *doubtful, *removed]
    rows = [line(Bit(f" {state.isolation.value} ", Tone.DANGER), "  do not start")]
    if state.isolation is Isolation.CONFLICT:
        rows.append(conflict_row(summary, state))
    for lock in state.locks:
        rows += lock_rows(summary, state, lock, cells)
    return [*rows, *doubtful, *removed]


def _may_name(summary: Summary, may: MayIsolate, loom: str) -> bool:
    """Whether a line that may hide an isolation names this loom, or no place that is known."""
    named = looms_named(may, summary.snapshot.mill)
    return not named or loom in named


def _open_things(summary: Summary, item: LoomLine, cells: int) -> list[Line]:
    state, zone = item.state, summary.snapshot.mill.zone
    rows: list[Line] = []
    for fault in state.faults:
        by = f" ({fault.by})" if fault.by else ""
        when = clock(fault.since, summary.as_of, zone)
        rows += folded([Bit("FAULT  ", Tone.ABNORMAL), Bit(f"{when}  ")], fault.text + by, cells)
    for proof in state.proofs:
        when = clock(proof.since, summary.as_of, zone)
        part = f"{proof.at.words()}: " if proof.at else ""
        why = f" ({proof.why})" if proof.why else ""
        by = f"  job by {proof.by}" if proof.by else ""
        what = f"{part}{proof.fault.value} {proof.what}{why}{by}  since {when}"
        rows += folded([Bit("PROOF  ", Tone.ABNORMAL)], what, cells)
    rows += [action_row(summary, action, cells) for action in item.actions]
    if not rows:
        return folded([], "no open fault, action or missing proof on record", cells)
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
    for name, text in cautions.items():
        rows += folded([Bit(f"caution, {name}: ", Tone.MANDATORY)], text, cells)
    return rows


def _wear_row(summary: Summary, wear: WearLine, cells: int) -> Line:
    quantity = summary.snapshot.mill.quantity(wear.at.part, wear.quantity)
    bar = wear_bar(wear, share_of_u(wear, quantity.new if quantity else None))
    strong = wear.word in (WearWord.PAST_LIMIT, WearWord.AT_LIMIT, WearWord.GAUGE_PAST)
    value = value_words(wear)
    said = margin_words(wear)
    if wear.word in INSIDE:
        left = said if wear.of_band else f"{said.removesuffix(' to limit')} left"
        said = f"{wear.word.value}, {left}"
    old = ", old reading" if wear.old and wear.margin is not None else ""
    read = clock(wear.reading.when, summary.as_of, summary.snapshot.mill.zone)
    # the words of a reading inside a band name its end already
    told = wear.limit is None or (wear.of_band and wear.word in INSIDE)
    limit = "" if told or wear.limit is None else f"  limit {plain(wear.limit)}"
    more = f"{limit}  read {read}" if cells >= 100 else ""
    name = fill(clean(wear.name), 21)
    head = f"{name} {fill(clean(value), 17 if cells >= 100 else 16 if cells >= 80 else 9)}"
    words = Bit(f"{said}{old}", Tone.ABNORMAL if strong else Tone.PLAIN)
    choices = [line(f"{head} {bar} ", words, more)]
    if more:
        choices += [line(f"{head} ", words, more), line(f"{head} {bar} ", words)]
    if wear.of_band and wear.word in INSIDE:
        choices.append(line(f"{head} {bar} ", Bit(f"{signed_margin(wear)}{old}", words.tone)))
    choices.append(line(f"{head} ", words))
    # a narrow screen keeps the verdict: the margin goes first, then the value
    verdict = Bit(wear.words, words.tone)
    choices += [line(f"{head} ", verdict), line(f"{clean(wear.name)} {value} ", verdict)]
    choices.append(line(f"{name} ", verdict))
    choices.append(line(f"{clean(wear.name)} ", verdict))
    choices.append(line(Bit(wear.word.value, words.tone), f" {clean(wear.name)}"))
    return next((row for row in choices if width(row.plain) <= cells), choices[-1])


def _history(summary: Summary, name: str, cells: int, most: int) -> list[Line]:
    own = of_loom(summary.snapshot.entries, name, summary.as_of, most)
    shown = own.newest
    head = title(f"HISTORY {own.number}", f"the last {len(shown)}, newest at the end", cells)
    return [head, *(row for x in shown for row in _history_rows(summary, name, x, cells))]


def _history_rows(summary: Summary, loom: str, logged: Logged, cells: int) -> list[Line]:
    entry = logged.entry
    when = clock(entry.when, summary.as_of, summary.snapshot.mill.zone)
    by = fill(entry.by or "", 3)
    words = entry.text.strip().split(None, 2)
    own = entry.place.kind is PlaceKind.LOOM and entry.place.name == loom
    text = words[-1] if own else " ".join(words[1:])
    struck = "[struck]" if logged.struck_by else ""
    return folded([Bit(f"{fill(when, 12)} {by} ")], text, cells, after=struck)


def loom_table(summary: Summary, cells: int) -> list[Line]:
    """Every loom with its four columns: motion, isolation, faults and actions, wear."""
    rows = [title(f"EVERY LOOM {len(summary.looms)}", "motion, isolation, open, wear", cells)]
    doubtful = may_be_isolated(summary)
    for item in summary.looms:
        state = item.state
        reason = f" {state.stopped_for.value}" if state.stopped_for else ""
        since = ""
        if state.motion_since is not None and state.motion is not Motion.UNKNOWN:
            since = f" {clock(state.motion_since, summary.as_of, summary.snapshot.mill.zone)}"
        locks = ",".join(lock.by for lock in state.locks)
        isolation = state.isolation.value + (f" {locks}" if locks else "")
        if not locks and state.loom in doubtful:
            isolation = MAY_BE_ISOLATED
        counts = [
            (len(state.faults), "fault"),
            (len(item.actions), "action"),
            (len(state.proofs), "proof"),
        ]
        opened = ", ".join(f"{n} {w}{'s' if n > 1 else ''}" for n, w in counts if n) or "-"
        worst = item.worst
        wear = f"{worst.name}: {margin_words(worst)}" if worst else "nothing measured"
        silent = f"  {item.silence}" if item.is_silent else ""
        loom = loom_cell(item.loom)
        text = columns(
            [(loom, width(loom)), (f"{state.motion.value}{reason}{since}", 26), (isolation, 15),
             (opened, 18), (f"{wear}{silent}", max(cells - 71, 10))]
        )  # fmt: skip
        rows.append(line(text).fitted(cells))
    return rows
