"""From the parts of a parsed line to an entry.

Lark calls one method a clause while it parses. What a word means for this mill is asked of
``parts`` and ``clock``; what cannot be meant is refused with a complaint, so that the grammar
itself stays free of the mill's limits. Text that Lark could not read at all is left to
``complaints``.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from lark import Token, Transformer

from grammar import entries as e
from grammar import made
from grammar.clock import Clock, Moment
from grammar.folding import Folded
from grammar.line import BEHIND, Line, known_words, last_word, remember
from grammar.negations import refuse_taken_back
from grammar.parts import Parts
from grammar.phrases import REASONS, WHYS, key_word, names_by_word, spellings
from grammar.places import Places
from grammar.together import HANDOVERS, Tail, joined
from grammar.verdicts import Verdicts
from grammar.vocabulary import Vocabulary

PLAIN = frozenset(e.KINDS) - HANDOVERS  # what one loom may say without a closer look


class ToEntry(Transformer[Token, e.Entry | e.Heading]):
    """Builds the clauses of one line; ``begin`` is called before each line."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        super().__init__()
        self.vocabulary = vocabulary
        self.clock = Clock(vocabulary)
        self.parts = Parts(vocabulary)
        self.places = Places(vocabulary)
        self.verdicts = Verdicts(vocabulary)
        self._stops: dict[str, e.Reason] = {}
        self._stopped_for = re.compile(key_word(spellings(vocabulary, ("stopped", "for"))))
        self._reasons = {
            word: e.Reason(name) for word, name in names_by_word(vocabulary, REASONS).items()
        }
        self._whys = names_by_word(vocabulary, WHYS)
        self._all = names_by_word(vocabulary, ("all",))
        self.timed = False  # whether a clause was made that means another thing at another time
        self.under(None)
        self.begin(Line(Folded("", "", None)), None)

    def forget(self) -> None:
        """Forgets every word met so far; what the words of the mill mean is looked up anew."""
        self.clock = Clock(self.vocabulary)
        self.parts = Parts(self.vocabulary)
        self.places = Places(self.vocabulary)
        self._stops.clear()

    def under(self, heading: e.Heading | None) -> None:
        """Sets the heading that holds for the lines to come."""
        self.shift = heading.shift if heading else None
        self.usual_writer = heading.by if heading else None
        self.clock.under(heading)

    def begin(self, line: Line, second_pass_on: date | None) -> None:
        """Sets the line to be read, and the day whose repeated hour comes again."""
        self.line = line
        self.second_pass_on = second_pass_on
        self.moment: Moment | None = None

    # -- heading and head ------------------------------------------------------------------

    def heading(self, children: list[Token]) -> e.Heading:
        line = self.line
        day = self.clock.day(line, children[1])
        by = line.last_word(children[3]) if len(children) > 3 else None
        shift = e.Shift(day=day, name=self.clock.shift_name(children[2]))
        return e.Heading(shift=shift, by=by, line=line.number)

    def AT(self, token: Token) -> None:
        stamp, word, *_ = token.value.split(None, 2)
        line = self.line
        self.place = self.places.of_head(line, token, word)
        start = token.start_pos or 0
        if line.folded.origin is None:
            self.stamp = line.folded.line[start : start + len(stamp)]
        else:
            self.stamp = line.folded.cut(start, start + len(stamp))
        when = self.clock.quick(stamp)
        if when is None:
            self.moment = self.clock.moment(line, token, stamp, self.second_pass_on)
            when = self.moment.when
        self.when = when

    # -- clauses ---------------------------------------------------------------------------

    def stopped(self, children: list[Token]) -> e.Stopped:
        return made.Stopped(span=self.line.span(children[0]))

    def stopped_why(self, children: list[Token]) -> e.Stopped:
        token = children[0]
        reason = self._stops.get(token.value)
        if reason is None:
            behind = self._stopped_for.match(token.value)
            assert behind is not None, "the terminal begins with these words"
            reason = self._reasons[known_words(token.value[behind.end() :], self._reasons)]
            remember(self._stops, token.value, reason)
        return made.Stopped(reason=reason, span=self.line.span(token))

    def running(self, children: list[Token]) -> e.Running:
        return made.Running(text=self._stated(children), span=self._whole(children))

    def isolated(self, children: list[Token]) -> e.Isolated:
        return made.Isolated(
            by=self.line.last_word(children[0]),
            text=self._stated(children),
            span=self._whole(children),
        )

    def lock_seen(self, children: list[Token]) -> e.LockSeen:
        return e.LockSeen(by=self.line.last_word(children[0]), span=self._whole(children))

    def lock_removed(self, children: list[Token]) -> e.LockRemoved:
        by = self.line.last_word(children[0])
        owner = self.line.last_word(children[1]) if len(children) > 1 else by
        return made.LockRemoved(by=by, owner=owner, span=self._whole(children))

    def fault(self, children: list[Token]) -> e.FaultOpened:
        folded = children[1].value.strip()
        at, side = self.vocabulary.found_in(folded)
        return made.FaultOpened(
            text=self._text(children),
            at=at,
            side=side,
            symptom=self.vocabulary.symptom_in(folded),
            span=self._whole(children),
        )

    def fault_cleared(self, children: list[Token]) -> e.FaultCleared:
        folded = children[1].value.strip() if len(children) > 1 else ""
        at, side = self.vocabulary.found_in(folded)
        return made.FaultCleared(
            text=self._stated(children),
            at=at,
            side=side,
            every=folded.rstrip(BEHIND) in self._all,
            span=self._whole(children),
        )

    def reading(self, children: list[Token]) -> e.Measured:
        words, number = children
        line = self.line
        said = self.parts.measurable(line, words)
        return made.Measured(
            at=said.at,
            quantity=said.quantity.name,
            amount=self.parts.reading(line, said, number),
            span=line.span(words, number),
        )

    def gauge(self, children: list[Token]) -> e.Gauged:
        words, verdict = children
        line = self.line
        said = self.parts.measurable(line, words)
        return made.Gauged(
            at=said.at,
            quantity=said.quantity.name,
            amount=self.parts.reading(line, said, verdict),
            enters=verdict.type == "ENTERED",
            span=line.span(words, verdict),
        )

    def work(self, children: list[Token]) -> e.Worked:
        job = self.parts.job(self.line, children[0])
        assert job.verb is not None
        why = None
        if len(children) > 1 and job.verb is e.Verb.REPLACED:
            word = self._whys.get(children[1].value.split()[0].strip(BEHIND))
            why = e.WhyReplaced(word) if word else None
        return made.Worked(
            verb=job.verb,
            at=job.at,
            text=self._stated(children),
            why=why,
            span=self._whole(children),
        )

    def moved(self, children: list[Token]) -> e.Moved:
        return e.Moved(
            at=self.parts.job(self.line, children[0]).at,
            origin=self.places.loom(self.line, children[1]),
            span=self._whole(children),
        )

    def torque(self, children: list[Token]) -> e.Torqued:
        lead = self._stated(children).rstrip(",:") if len(children) > 2 else ""
        return made.Torqued(
            amount=self.parts.torque(self.line, children[-1]),
            text=lead,
            span=self._whole(children),
        )

    def thread_locked(self, children: list[Token]) -> e.ThreadLocked:
        return made.ThreadLocked(span=self._whole(children))

    def checked(self, children: list[Token]) -> e.Checked:
        found = children[1]
        return made.Checked(
            text=self.verdicts.before(self.line, found),
            good=found.type == "FOUND_OK",
            span=self._whole(children),
        )

    def batch(self, children: list[Token]) -> e.Batch:
        return made.Batch(word=self.line.last_word(children[0]), span=self._whole(children))

    def counter(self, children: list[Token]) -> e.Counter:
        return made.Counter(
            amount=self.parts.use(self.line, children[1], "a loom's meter"),
            new_meter=len(children) > 2,
            span=self._whole(children),
        )

    def style(self, children: list[Token]) -> e.StyleSet:
        return e.StyleSet(word=self.line.last_word(children[0]), span=self._whole(children))

    def open(self, children: list[Token]) -> e.Opened:
        return made.Opened(text=self._text(children), span=self._whole(children))

    def open_numbered(self, children: list[Token]) -> e.Opened:
        return made.Opened(
            number=_number(children[0]), text=self._text(children), span=self._whole(children)
        )

    def due(self, children: list[Token]) -> Tail:
        what = children[1]
        due: e.Due
        if what.type == "BEFORE_START":
            due = e.DueBeforeStart()
        else:
            self.timed = True
            due = self.clock.due(self.line, what, self.when)
        return Tail("due", self._whole(children), due)

    def due_in(self, children: list[Token]) -> Tail:
        use = self.parts.use(self.line, children[1], "the use of a loom")
        due = e.DueAfterUse(use=use.value, unit=use.unit, written=f"in {use.written}")
        return Tail("due", self._whole(children), due)

    def whom(self, children: list[Token]) -> Tail:
        return Tail("for", self._whole(children), self.line.last_word(children[0]))

    def by(self, children: list[Token]) -> Tail:
        return Tail("by", self._whole(children), self.line.last_word(children[0]))

    def sealed(self, children: list[Token]) -> Tail:
        seal = e.Seal(lines=int(last_word(children[0])), digest=children[1].value.rstrip())
        return Tail("sealed", self._whole(children), seal)

    def done(self, children: list[Token]) -> e.Done:
        name = self._action(children[0])
        return made.Done(name=name, text=self._stated(children), span=self._whole(children))

    def dropped(self, children: list[Token]) -> e.Dropped:
        name = self._action(children[0])
        return e.Dropped(name=name, text=self._text(children), span=self._whole(children))

    def _action(self, token: Token) -> e.ActionName:
        if token.type.endswith("_NUMBERED"):
            number = _number(token)
            return e.ByNumber(number=number, written=f"no {number}")
        return self._named_time(token)

    def _named_time(self, token: Token) -> e.ByTime:
        self.timed = True
        shift = self.moment.shift if self.moment else self.shift
        return self.clock.named(self.line, token, shift, self.second_pass_on)

    def note(self, children: list[Token]) -> e.Note:
        return made.Note(text=self._text(children), span=self._whole(children))

    def handed_over(self, children: list[Token]) -> e.HandedOver:
        by, to = map(self.line.last_word, children)
        return e.HandedOver(by=by, to=to, span=self._whole(children))

    def taken_over(self, children: list[Token]) -> e.TakenOver:
        return e.TakenOver(by=self.line.last_word(children[0]), span=self._whole(children))

    def struck(self, children: list[Token]) -> e.Struck:
        name = self._named_time(children[0])
        return e.Struck(name=name, text=self._text(children), span=self._whole(children))

    def _whole(self, children: list[Token]) -> e.Span:
        return self.line.span(children[0], children[-1])

    def _text(self, children: list[Token]) -> str:
        """The free text of a clause, its second token, as written."""
        return self.line.written(children[1]) if len(children) > 1 else ""

    def _stated(self, children: list[Token]) -> str:
        """The same, of a clause that states what is so. Raises LineRefused if it is taken back."""
        if len(children) > 1:
            refuse_taken_back(self.line, children[0], children[1])
        return self._text(children)

    # -- the whole line -------------------------------------------------------------------------

    def first(self, children: list[Any]) -> list[e.Clause | Tail]:
        return [children[1]]

    def further(self, children: list[Any]) -> list[e.Clause | Tail]:
        parts: list[e.Clause | Tail] = children[0]
        parts.append(children[2])
        return parts

    def ended(self, children: list[Any]) -> list[e.Clause | Tail]:
        parts: list[e.Clause | Tail] = children[0]
        return parts

    def entry(self, parsed: Any) -> e.Entry:
        """The entry of a line from its clauses, as Lark returns them. Raises LineRefused."""
        clauses: list[Any] = parsed
        place, line = self.place, self.line
        by, own_writer = self.usual_writer, False
        plain = place.kind is e.PlaceKind.LOOM and PLAIN.issuperset(map(type, clauses))
        if not plain:
            writer, clauses = joined(line, place, clauses)
            if writer is not None:
                by, own_writer = writer, True
        moment, when = self.moment, self.when
        return made.Entry(
            when=when,
            latest=when if moment is None else moment.latest,
            place=place,
            clauses=tuple(clauses),
            by=by,
            own_writer=own_writer,
            shift=self.shift if moment is None else moment.shift,
            stamp=self.stamp,
            line=line.number,
            text=line.folded.line,
        )


def _number(token: Token) -> int:
    """The number of an action, the token's last digits."""
    text = last_word(token)
    return int(text[len(text.rstrip("0123456789")) :])
