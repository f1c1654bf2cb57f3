"""What is new in the shed since a moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime

from board.reckon.summary import WAITING, Summary
from board.state.fleet import Fleet, LoomState, Motion
from board.state.later import recent
from board.state.locks import same_person
from board.state.spells import backwards
from grammar.entries import Verb
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Something that happened: when, to which loom, what, by whom."""

    when: datetime
    loom: str
    what: str
    words: str
    by: str | None


def changed_since(summary: Summary, since: datetime) -> tuple[Change, ...]:
    """What changed since a moment, its minute included, the newest first.

    Locks (those written for a time still to come too; of those taken off by their owner, the ones
    that were on by then), faults, jobs, actions, stops and styles; and looms that stood by then,
    not waiting for anything, and run now.
    """
    return summary.once((changed_since, since), lambda: _changed_since(summary, since))


def _changed_since(summary: Summary, since: datetime) -> tuple[Change, ...]:
    shown = {line.loom for line in summary.looms}
    found = [c for c in _changes(summary, since) if c.when >= since]
    found = [c for c in found if c.loom in shown or c.loom not in summary.snapshot.fleet.looms]
    return tuple(sorted(found, key=lambda c: (-c.when.timestamp(), c.loom, c.words)))


def _changes(summary: Summary, begin: datetime) -> Iterator[Change]:
    """What changed, at least since a moment."""
    fleet = summary.snapshot.fleet
    for state in fleet.looms.values():
        for lock in state.locks:
            yield Change(
                when=lock.since, loom=state.loom, what="isolated",
                words=f"isolated by {lock.by} {lock.text}".strip(), by=lock.by,
            )  # fmt: skip
        for removal in state.removed_for_others:
            yield Change(
                when=removal.when, loom=state.loom, what="lock removed",
                words=f"lock of {removal.owner} removed by {removal.by}", by=removal.by,
            )  # fmt: skip
        for fault in state.faults:
            yield Change(
                when=fault.since, loom=state.loom, what="fault", words=f"fault {fault.text}",
                by=fault.by,
            )  # fmt: skip
        told_by_others = {f.since for f in state.faults} | {k.since for k in state.locks}
        if (
            state.motion is Motion.STOPPED
            and state.motion_since is not None
            and state.motion_since not in told_by_others
            and _worth_telling(state)
        ):
            reason = f" for {state.stopped_for.value}" if state.stopped_for else ""
            since = reason_since(summary, state)
            assert since is not None
            yield Change(
                when=since, loom=state.loom, what="stopped",
                words=f"stopped{reason}", by=state.motion_by,
            )  # fmt: skip
        if state.style_since is not None:
            yield Change(
                when=state.style_since, loom=state.loom, what="style",
                words=f"style {state.style}", by=None,
            )  # fmt: skip
    yield from _running_again(fleet, begin)
    for off in recent(fleet.history.locks, begin):
        # one that was put on since then too is no change; one taken off by another is told above
        if off.since < begin and same_person(off.by, off.owner):
            yield Change(
                when=off.ended, loom=off.loom, what="lock removed",
                words=f"lock removed by {off.by}", by=off.by,
            )  # fmt: skip
    for cleared in recent(fleet.history.cleared, begin):
        told = f": {cleared.text}" if cleared.text else ""
        yield Change(
            when=cleared.cleared, loom=cleared.loom, what="fault cleared",
            words=f"cleared {cleared.fault.text}{told}", by=cleared.by,
        )  # fmt: skip
    for job in recent(fleet.history.jobs, begin):
        if job.verb in (Verb.REPLACED, Verb.ADJUSTED, Verb.REPAIRED):
            words = f"{job.verb.value} {job.at.words()} {job.text}".strip()
        elif job.origin is not None:
            words = f"moved {job.at.words()} from {job.origin}"
        else:
            continue
        yield Change(when=job.when, loom=job.loom, what="job", words=words, by=job.by)
    for closed in recent(fleet.history.closed, begin):
        number = f"no {closed.action.number} " if closed.action.number is not None else ""
        word = "dropped" if closed.dropped else "done"
        yield Change(
            when=closed.when, loom=closed.action.place.name, what=word,
            words=f"{word} {number}{closed.action.text}", by=closed.by,
        )  # fmt: skip
    for line in summary.actions:
        action = line.action
        number = f"no {action.number} " if action.number is not None else ""
        yield Change(
            when=action.opened, loom=action.place.name, what="open",
            words=f"open {number}{action.text}", by=action.by,
        )  # fmt: skip


def _running_again(fleet: Fleet, begin: datetime) -> Iterator[Change]:
    """Looms that run since then, and stood when it began; what stood for a while since is none."""
    began = {
        state.loom: state.motion_since
        for state in fleet.looms.values()
        if state.motion is Motion.RUNNING
        and state.motion_since is not None
        and state.motion_since >= begin
        and state.conflict_since is None
    }
    stretches = defaultdict(list)
    for spell in recent(fleet.history.spells, begin) if began else ():
        if spell.loom in began and spell.motion is Motion.STOPPED:
            stretches[spell.loom].append(spell)
    for loom, stretch in stretches.items():
        last, end = stretch[-1], began[loom]
        while stretch and stretch[-1].end == end:  # one for each reason of the same stop
            end = stretch.pop().start
        if last.end == began[loom] and end < begin and last.reason not in WAITING:
            state = fleet.looms[loom]
            stood = f" for {last.reason.value}" if last.reason else ""
            yield Change(
                when=began[loom], loom=loom, what="running",
                words=f"running again, was stopped{stood} {state.motion_text}".strip(),
                by=state.motion_by,
            )  # fmt: skip


def _worth_telling(state: LoomState) -> bool:
    return state.stopped_for not in WAITING


def reason_since(summary: Summary, state: LoomState) -> datetime | None:
    """Since when a loom stands for the reason it stands for now; a new style changes no reason."""
    since = state.spell_since
    if since is None or since == state.motion_since:
        return state.motion_since
    for spell in backwards(summary.snapshot.fleet.history.spells, state.loom):
        if (spell.motion, spell.reason, spell.end) != (state.motion, state.stopped_for, since):
            break
        since = spell.start
    return since
