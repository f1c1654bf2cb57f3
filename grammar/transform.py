"""From the parts of a parsed line to an entry.

Lark calls one method a rule while it parses. What a word means for this mill is asked of the
vocabulary; what cannot be meant is refused here with a complaint, so that the grammar itself
stays free of the mill's limits. Text that Lark could not read at all is left to ``complaints``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from lark import Token, Transformer

from grammar import entries as e
from grammar import times
from grammar.diagnostics import Code, Diagnostic, LineRefused
from grammar.folding import Folded
from grammar.phrases import REASONS, VERBS, WHYS, names_by_word
from grammar.sense import no_such_quantity, wrong_side
from grammar.units import UNITS, Kind, NumberFault, Unit, read_number, split_amount, unit_of
from grammar.vocabulary import PartWords, QuantityWords, ShiftTimes, Vocabulary

_GROUP_CLAUSES = (
    e.Stopped,
    e.Running,
    e.StyleSet,
    e.Note,
    e.Opened,
    e.Done,
    e.Dropped,
    e.HandedOver,
    e.TakenOver,
)


@dataclass(slots=True, kw_only=True)
class LineContext:
    """What holds for the line being read: its text, its heading, what the file told before it."""

    folded: Folded
    line: int
    heading: e.Heading | None = None
    second_pass_on: date | None = None  # the file's times have stepped back on this day
    when: datetime | None = None
    latest: datetime | None = None
    local: datetime | None = None
    shift: e.Shift | None = None
    stamp: str = ""
    place: e.Place | None = None
    flags: list[Diagnostic] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Tail:
    """A clause that belongs to the one before it: ``due``, ``for``, ``sealed``, ``by``."""

    kind: str
    span: e.Span
    value: e.Due | e.Seal | str


class ToEntry(Transformer[Token, e.Entry | e.Heading]):
    """Builds the clauses of one line; ``context`` is set anew before each line."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        super().__init__()
        self.vocabulary = vocabulary
        self.context = LineContext(folded=Folded("", "", None), line=0)
        self._verbs = names_by_word(vocabulary, VERBS)
        self._reasons = names_by_word(vocabulary, REASONS)
        self._whys = names_by_word(vocabulary, WHYS)
        self._all = names_by_word(vocabulary, ("all",))

    # -- complaints and text ---------------------------------------------------------------

    def complaint(
        self, code: Code, message: str, span: e.Span, *, label: str = "", help: str = ""
    ) -> Diagnostic:
        """A complaint about a stretch of the present line."""
        context = self.context
        return Diagnostic(
            code=code,
            message=message,
            line=context.line,
            span=span,
            text=context.folded.line,
            label=label,
            help=help,
        )

    def _refuse(
        self, code: Code, message: str, where: Token | e.Span, *, label: str = "", help: str = ""
    ) -> LineRefused:
        span = self._span(where) if isinstance(where, Token) else where
        return LineRefused(self.complaint(code, message, span, label=label, help=help))

    def _span(self, first: Token, last: Token | None = None) -> e.Span:
        last = last or first
        start, end = first.start_pos or 0, (last.start_pos or 0) + len(last.rstrip())
        return self.context.folded.span(start, end)

    def _written(self, token: Token) -> str:
        start = token.start_pos or 0
        return self.context.folded.cut(start, start + len(token))

    def _clause_span(self, children: list[Token]) -> e.Span:
        return self._span(children[0], children[-1])

    # -- heading and head ------------------------------------------------------------------

    def heading(self, children: list[Token]) -> e.Heading:
        day = self._date(children[1])
        name = self.vocabulary.shift_by_word[" ".join(children[2].split())].name
        by = self._written(children[4]) if len(children) > 4 else None
        shift = e.Shift(day=day, name=name)
        return e.Heading(shift=shift, by=by, line=self.context.line)

    def head(self, children: list[Token]) -> None:
        stamp, place = children
        context = self.context
        context.stamp = self._written(stamp)
        context.place = self.vocabulary.place(self._written(place))
        if context.place is None:
            raise self._unknown_loom(place)
        wall = self._full(stamp)
        if wall is None:
            heading = context.heading
            if heading is None:
                raise self._refuse(
                    Code.NO_DAY,
                    "this entry stands under no heading that was understood",
                    stamp,
                    label="of which day?",
                    help="write a line above it like: day 2026-11-24 night by KM",
                )
            wall = self._bare(stamp, heading.shift, flagged=True)
            context.shift = heading.shift
        else:
            around = tuple(times.shifts_around(wall.local, self.vocabulary.shifts))
            own = context.heading.shift if context.heading else None
            context.shift = own if own in around or not around else around[0]
        instant = self._instant(wall, stamp)
        context.when, context.latest = instant.when, instant.latest
        context.local = wall.local if wall.offset is None else None
        if instant.twice:
            context.flags.append(
                self.complaint(
                    Code.HOUR_TWICE,
                    "the clocks went back and this time came twice; "
                    + (
                        "the first is taken"
                        if instant.when != instant.latest
                        else "the file's times step back, so the second is taken"
                    ),
                    self._span(stamp),
                    help="write it in full with its offset, like 2026-10-25T01:30+01:00",
                )
            )

    def _unknown_loom(self, place: Token) -> LineRefused:
        from grammar.nearest import nearest  # costs a moment, needed for complaints only

        written = self._written(place)
        near = nearest(written, (*self.vocabulary.looms, *self.vocabulary.sections, "shed"))
        return self._refuse(
            Code.UNKNOWN_LOOM,
            f"no loom {written} stands in the register",
            place,
            help=f"did you mean {near}?" if near else "",
        )

    # -- times -----------------------------------------------------------------------------

    def _full(self, stamp: Token) -> times.Wall | None:
        try:
            return times.read_full(str(stamp))
        except times.NoTime:
            raise self._no_time(stamp) from None

    def _date(self, token: Token) -> date:
        try:
            return times.read_date(str(token))
        except times.NoTime:
            raise self._refuse(
                Code.NOT_UNDERSTOOD,
                f"the calendar has no {self._written(token)}",
                token,
                help="write year, month and day, like 2026-11-24",
            ) from None

    def _clock(self, stamp: Token) -> time:
        try:
            return times.read_clock(str(stamp))
        except times.NoTime:
            raise self._no_time(stamp) from None

    def _no_time(self, stamp: Token) -> LineRefused:
        return self._refuse(
            Code.NOT_UNDERSTOOD,
            f"{self._written(stamp)} is no time of day",
            stamp,
            help="write hours 00 to 23 and minutes 00 to 59, like 22:40",
        )

    def _bare(self, stamp: Token, shift: e.Shift, *, flagged: bool) -> times.Wall:
        own = self._shift_times(shift)
        local, outside = times.place_in_shift(self._clock(stamp), shift.day, own)
        if flagged and outside > timedelta(0):
            self.context.flags.append(
                self.complaint(
                    Code.OUTSIDE_SHIFT,
                    f"{local:%H:%M} lies far outside the {own.name} shift of {shift.day}"
                    f"; {local:%Y-%m-%d %H:%M} is taken",
                    self._span(stamp),
                    help=f"check the time, or write it in full, like {local:%Y-%m-%dT%H:%M}",
                )
            )
        return times.Wall(local)

    def _shift_times(self, shift: e.Shift) -> ShiftTimes:
        return next(s for s in self.vocabulary.shifts if s.name == shift.name)

    def _instant(self, wall: times.Wall, stamp: Token) -> times.Instant:
        second = wall.local.date() == self.context.second_pass_on
        try:
            return times.resolve(wall, self.vocabulary.zone, second_pass=second)
        except times.NoSuchTime:
            raise self._refuse(
                Code.NO_SUCH_TIME,
                f"the clocks went forward over {wall.local:%H:%M} on {wall.local:%Y-%m-%d}",
                stamp,
                help="write the time that the clock on the wall showed",
            ) from None

    def _named_time(self, stamp: Token) -> e.ByTime:
        wall = self._full(stamp)
        if wall is None:
            shift = self.context.shift
            if shift is None:
                raise self._refuse(
                    Code.NO_DAY, "this time belongs to no known shift", stamp,
                    help="write it in full, like 2026-11-24T22:55",
                )  # fmt: skip
            wall = self._bare(stamp, shift, flagged=False)
        return e.ByTime(moment=self._instant(wall, stamp).when, written=self._written(stamp))

    # -- numbers and parts -----------------------------------------------------------------

    def _amount(
        self,
        token: Token,
        target: Unit,
        what: str,
        plausible: tuple[float, float] | None = None,
    ) -> e.Amount:
        number, unit_word = split_amount(token.rstrip())
        source = unit_of(unit_word)
        assert source is not None, unit_word
        unit_at = (token.start_pos or 0) + len(token.rstrip()) - len(unit_word)
        if source.kind is not target.kind:
            span = self.context.folded.span(unit_at, unit_at + len(unit_word))
            raise self._refuse(
                Code.WRONG_UNIT,
                f"{source.symbol} measures {source.kind.value}, and {what} is written in"
                f" {target.symbol}",
                span,
                help=f"write a unit of {target.kind.value} like {target.symbol}",
            )
        value = read_number(number, source=source, target=target, plausible=plausible)
        number_span = self.context.folded.span(
            token.start_pos or 0, (token.start_pos or 0) + len(number)
        )
        match value:
            case NumberFault.NO_NUMBER:
                raise self._refuse(
                    Code.NOT_UNDERSTOOD,
                    f"{number} is no number",
                    number_span,
                    help="use one decimal mark and no grouping marks, like 2.35 or 18250,5",
                )
            case NumberFault.AMBIGUOUS:
                mark = "," if "," in number else "."
                plain = number.replace(mark, "")
                raise self._refuse(
                    Code.NUMBER_AMBIGUOUS,
                    f"{number} may be {number.replace(',', '.')} or {plain}",
                    number_span,
                    help=f"write {plain} or {number}0",
                )
            case _:
                pass
        outside = ""
        if plausible is not None and not plausible[0] <= value <= plausible[1]:
            outside = f"{plausible[0]:g} to {plausible[1]:g} {target.symbol}"
        written = self._written(token)
        return e.Amount(value=value, unit=target.symbol, written=written, implausible=outside)

    def _part(self, found: dict[str, Token]) -> tuple[PartWords, e.PartAt]:
        word = " ".join(found["PART"].split())
        part = self.vocabulary.part_by_word[word]
        side_token = found.get("SIDE")
        side = self.vocabulary.side_by_word[" ".join(side_token.split())] if side_token else None
        fault = wrong_side(part, side)
        if fault:
            message, help = fault
            raise self._refuse(Code.UNKNOWN_SIDE, message, side_token or found["PART"], help=help)
        index = found.get("INDEX") or found.get("JOB_INDEX")
        number = int(index) if index else None
        return part, e.PartAt(part=part.name, side=side, number=number)

    def _quantity(self, part: PartWords, found: dict[str, Token]) -> QuantityWords:
        token = found.get("QUANTITY")
        if token is None:
            if len(part.quantities) == 1:
                return part.quantities[0]
            names: frozenset[str] = frozenset()
        else:
            names = self.vocabulary.quantity_words[" ".join(token.split())]
            for quantity in part.quantities:
                if quantity.name in names:
                    return quantity
        message, help = no_such_quantity(part, self._written(token) if token else None)
        raise self._refuse(Code.NOT_UNDERSTOOD, message, token or found["PART"], help=help)

    def _measured_amount(self, part: PartWords, quantity: QuantityWords, token: Token) -> e.Amount:
        what = f"{part.name} {quantity.name}"
        amount = self._amount(token, UNITS[quantity.unit], what, quantity.plausible)
        if amount.implausible:
            self.context.flags.append(
                self.complaint(
                    Code.IMPLAUSIBLE,
                    f"{amount.written} lies outside the plausible {amount.implausible}",
                    self._span(token),
                    help="measure again; until confirmed it stays out of margins and forecasts",
                )
            )
        return amount

    # -- clauses ---------------------------------------------------------------------------

    def stopped(self, children: list[Token]) -> e.Stopped:
        reason = None
        if len(children) > 1:
            reason = e.Reason(self._reasons[" ".join(children[1].split())])
        return e.Stopped(reason=reason, span=self._clause_span(children))

    def running(self, children: list[Token]) -> e.Running:
        return e.Running(text=self._text(children, 1), span=self._clause_span(children))

    def isolated(self, children: list[Token]) -> e.Isolated:
        return e.Isolated(
            by=self._written(children[1]),
            text=self._text(children, 2),
            span=self._clause_span(children),
        )

    def lock_seen(self, children: list[Token]) -> e.LockSeen:
        return e.LockSeen(by=self._written(children[1]), span=self._clause_span(children))

    def lock_removed(self, children: list[Token]) -> e.LockRemoved:
        by = self._written(children[1])
        owner = self._written(children[3]) if len(children) > 3 else by
        return e.LockRemoved(by=by, owner=owner, span=self._clause_span(children))

    def fault(self, children: list[Token]) -> e.FaultOpened:
        folded = children[1].strip()
        at, side = self.vocabulary.found_in(folded)
        return e.FaultOpened(
            text=self._written(children[1]),
            at=at,
            side=side,
            symptom=self.vocabulary.symptom_in(folded),
            span=self._clause_span(children),
        )

    def fault_cleared(self, children: list[Token]) -> e.FaultCleared:
        folded = children[1].strip() if len(children) > 1 else ""
        at, side = self.vocabulary.found_in(folded)
        return e.FaultCleared(
            text=self._text(children, 1),
            at=at,
            side=side,
            every=folded in self._all,
            span=self._clause_span(children),
        )

    def reading(self, children: list[Token]) -> e.Measured:
        found = _by_type(children)
        part, at = self._part(found)
        quantity = self._quantity(part, found)
        return e.Measured(
            at=at,
            quantity=quantity.name,
            amount=self._measured_amount(part, quantity, found["AMOUNT"]),
            span=self._clause_span(children),
        )

    def gauge(self, children: list[Token]) -> e.Gauged:
        found = _by_type(children)
        part, at = self._part(found)
        quantity = self._quantity(part, found)
        return e.Gauged(
            at=at,
            quantity=quantity.name,
            amount=self._measured_amount(part, quantity, found["AMOUNT"]),
            enters="ENTERS" in found,
            span=self._clause_span(children),
        )

    def work(self, children: list[Token]) -> e.Worked:
        found = _by_type(children)
        _, at = self._part(found)
        verb = e.Verb(self._verbs[" ".join(found["VERB"].split())])
        why = None
        text = found.get("TEXT")
        if text and verb is e.Verb.REPLACED:
            word = self._whys.get(text.split()[0].strip(",."))
            why = e.WhyReplaced(word) if word else None
        return e.Worked(
            verb=verb,
            at=at,
            text=self._written(text) if text else "",
            why=why,
            span=self._clause_span(children),
        )

    def moved(self, children: list[Token]) -> e.Moved:
        found = _by_type(children)
        _, at = self._part(found)
        origin = self.vocabulary.loom(self._written(found["PLACE"]))
        if origin is None:
            raise self._unknown_loom(found["PLACE"])
        return e.Moved(at=at, origin=origin, span=self._clause_span(children))

    def torque(self, children: list[Token]) -> e.Torqued:
        found = _by_type(children)
        lead = found.get("LEAD")
        return e.Torqued(
            amount=self._amount(found["AMOUNT"], UNITS["N.m"], "torque"),
            text=self._written(lead) if lead else "",
            span=self._clause_span(children),
        )

    def thread_locked(self, children: list[Token]) -> e.ThreadLocked:
        return e.ThreadLocked(span=self._clause_span(children))

    def checked(self, children: list[Token]) -> e.Checked:
        return e.Checked(
            text=self._written(children[1]),
            good=children[2].type == "OK",
            span=self._clause_span(children),
        )

    def batch(self, children: list[Token]) -> e.Batch:
        return e.Batch(word=self._written(children[1]), span=self._clause_span(children))

    def counter(self, children: list[Token]) -> e.Counter:
        amount = self._use(children[1], "a meter")
        return e.Counter(
            amount=amount, new_meter=len(children) > 2, span=self._clause_span(children)
        )

    def _use(self, token: Token, what: str) -> e.Amount:
        unit = unit_of(split_amount(token.rstrip())[1])
        picks = unit is not None and unit.kind is Kind.PICKS
        amount = self._amount(token, UNITS["picks" if picks else "h"], what)
        if amount.value < 0:
            raise self._refuse(
                Code.NOT_UNDERSTOOD, f"{what} shows no negative number", token, help="check it"
            )
        return amount

    def style(self, children: list[Token]) -> e.StyleSet:
        return e.StyleSet(word=self._written(children[1]), span=self._clause_span(children))

    def open(self, children: list[Token]) -> e.Opened:
        found = _by_type(children)
        numbered = found.get("NUMBERED")
        return e.Opened(
            number=self._numbered(numbered).number if numbered else None,
            text=self._written(found["TEXT"]),
            span=self._clause_span(children),
        )

    def due(self, children: list[Token]) -> _Tail:
        return _Tail("due", self._clause_span(children), self._due(children))

    def whom(self, children: list[Token]) -> _Tail:
        return _Tail("for", self._clause_span(children), self._written(children[1]))

    def by(self, children: list[Token]) -> _Tail:
        return _Tail("by", self._clause_span(children), self._written(children[1]))

    def sealed(self, children: list[Token]) -> _Tail:
        seal = e.Seal(lines=int(children[1]), digest=str(children[2]))
        return _Tail("sealed", self._clause_span(children), seal)

    def done(self, children: list[Token]) -> e.Done:
        return e.Done(
            name=self._action(children[1]),
            text=self._text(children, 2),
            span=self._clause_span(children),
        )

    def dropped(self, children: list[Token]) -> e.Dropped:
        return e.Dropped(
            name=self._action(children[1]),
            text=self._text(children, 2),
            span=self._clause_span(children),
        )

    def note(self, children: list[Token]) -> e.Note:
        return e.Note(text=self._text(children, 1), span=self._clause_span(children))

    def handed_over(self, children: list[Token]) -> e.HandedOver:
        return e.HandedOver(
            by=self._written(children[1]),
            to=self._written(children[3]),
            span=self._clause_span(children),
        )

    def taken_over(self, children: list[Token]) -> e.TakenOver:
        return e.TakenOver(by=self._written(children[1]), span=self._clause_span(children))

    def struck(self, children: list[Token]) -> e.Struck:
        return e.Struck(
            name=self._named_time(children[1]),
            text=self._text(children, 2),
            span=self._clause_span(children),
        )

    def _text(self, children: list[Token], index: int) -> str:
        return self._written(children[index]) if len(children) > index else ""

    def _numbered(self, token: Token) -> e.ByNumber:
        number = int("".join(c for c in token if c.isdigit()))
        return e.ByNumber(number=number, written=f"no {number}")

    def _action(self, token: Token) -> e.ActionName:
        return self._numbered(token) if token.type == "NUMBERED" else self._named_time(token)

    def _due(self, children: list[Token]) -> e.Due:
        what = children[1]
        written = self._written(what)
        zone, now = self.vocabulary.zone, self.context.when
        assert now is not None, "the head is read before the clauses"
        match what.type:
            case "BEFORE_START":
                return e.DueBeforeStart()
            case "IN":
                use = self._use(children[2], "the use of a loom")
                return e.DueAfterUse(use=use.value, unit=use.unit, written=f"in {use.written}")
            case "SHIFT":
                shift = self.vocabulary.shift_by_word[" ".join(what.split())]
                return e.DueAt(moment=times.next_start(shift, now, zone), written=written)
            case "DATE":
                midnight = datetime.combine(self._date(what) + timedelta(days=1), time(0))
                return e.DueAt(
                    moment=self._instant(times.Wall(midnight), what).when, written=written
                )
            case _:
                wall = self._full(what)
                if wall is None:
                    clock = self._clock(what)
                    return e.DueAt(moment=times.next_clock(clock, now, zone), written=written)
                return e.DueAt(moment=self._instant(wall, what).when, written=written)

    # -- the entry -------------------------------------------------------------------------

    def entry(self, children: list[Token | e.Clause | _Tail | None]) -> e.Entry:
        context = self.context
        by = context.heading.by if context.heading else None
        own_writer = False
        clauses: list[e.Clause] = []
        attachable = False
        for child in children:
            if child is None or isinstance(child, Token):
                continue
            if not isinstance(child, _Tail):
                clauses.append(self._allowed(child))
                attachable = True
            elif child.kind == "by":
                by, own_writer, attachable = str(child.value), True, False
            elif attachable:
                clauses[-1] = self._attached(clauses[-1], child)
            else:
                raise self._stray(child)
        if not clauses:
            raise self._refuse(
                Code.NOT_UNDERSTOOD, "the entry names its writer but says nothing",
                e.Span(0, len(context.folded.line)), help="put free text after: note",
            )  # fmt: skip
        assert context.when is not None
        assert context.latest is not None
        assert context.place is not None
        return e.Entry(
            when=context.when,
            latest=context.latest,
            place=context.place,
            clauses=tuple(clauses),
            by=by,
            own_writer=own_writer,
            shift=context.shift,
            stamp=context.stamp,
            line=context.line,
            text=context.folded.line,
        )

    def _attached(self, clause: e.Clause, tail: _Tail) -> e.Clause:
        span = e.Span(clause.span.start, tail.span.end)
        match clause, tail.kind, tail.value:
            case e.Opened(due=None), "due", (
                e.DueAt() | e.DueBeforeStart() | e.DueAfterUse()
            ) as due:
                return replace(clause, due=due, span=span)
            case e.Opened(whom=None), "for", str(whom):
                return replace(clause, whom=whom, span=span)
            case e.TakenOver(seal=None), "sealed", e.Seal() as seal:
                return replace(clause, seal=seal, span=span)
            case _:
                raise self._stray(tail)

    def _stray(self, tail: _Tail) -> LineRefused:
        owner = "taken over by WHO" if tail.kind == "sealed" else "open TEXT"
        return self._refuse(
            Code.NOT_UNDERSTOOD,
            f"{tail.kind} stands here once, directly after: {owner}",
            tail.span,
            help="move it behind the clause that it belongs to",
        )

    def _allowed(self, clause: e.Clause) -> e.Clause:
        place = self.context.place
        assert place is not None
        handover = isinstance(clause, e.HandedOver | e.TakenOver)
        if handover and place.kind not in (e.PlaceKind.SHED, e.PlaceKind.SECTION):
            raise self._refuse(
                Code.NOT_UNDERSTOOD, f"a handover is of the shed or a section, not of {place.name}",
                clause.span, help="write shed in the loom's place",
            )  # fmt: skip
        if place.kind is not e.PlaceKind.LOOM and not isinstance(clause, _GROUP_CLAUSES):
            raise self._refuse(
                Code.NOT_UNDERSTOOD,
                f"this is written for one loom, and {place.name} is a group of looms",
                clause.span,
                help="write one line for each loom",
            )
        return clause


def _by_type(children: list[Token]) -> dict[str, Token]:
    return {token.type: token for token in children}
