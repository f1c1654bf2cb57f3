"""Keeps a snapshot true while a folder changes: rereads what was saved, says what is wrong.

One thread of its own waits for the watcher and hands each new picture over; the last good
register and the last good picture stay while something is broken, and the trouble is told with
the moment it began.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from board.holding import Holding
from board.index.schema import Unusable
from board.loading import NO_INDEX, read_mill
from board.mill import Mill
from board.reckon.first_looks import look_ahead
from board.reckon.past_forecasts import Held
from board.reckon.summary import Summary, summarise
from board.reckon.wear_record import PastLives
from board.record.shelf import WAITED_S
from board.record.sweep import REGISTER_NAME
from board.record.watch import Batch, FolderWatch, Manner
from board.remembered import Studies, held_so_far
from board.rings import Rings
from board.vanished import Vanished, file_of
from grammar.frozen import dataclass

PATIENCE_S = 10.0  # [s] for a new picture, until the old one is said not to be current
_LONGEST_WAIT = 30.0  # [s]
_WORTH_READYING = 20_000  # lines of the record, from which on many may have to be read at once
_MANY = 8  # logs saved at once, from which on more of them are waited for
_FOR_MORE_S = 0.2  # [s]
_LONGEST_TAKING_S = 10.0  # [s] from when on a picture comes before whatever else is saved
_LONGEST_OWED_S = 0.5  # [s] from when on a picture is finished whatever is saved
_LAST_WORK_S = 2.0  # [s] for what is being read when the board is left


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is to be shown now; ``trouble`` says since when and why it may not be current."""

    summary: Summary
    trouble: str = ""
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Fault:
    """Something wrong, since when."""

    since: datetime
    sentence: str


class _SavedMeanwhile(Exception):
    """Something was saved while a picture was made: it is read first, and the picture is of it."""


class Keeping:
    """Watches a folder and keeps its picture; a context manager.

    ``as_of`` fixes the moment of the pictures; without it they are of the clock's present.
    ``index`` is the file of an index or ``none``; None is the one of the cache folder. ``on_new``
    is called from the keeping thread whenever ``picture`` is a new one: it must be quick.
    """

    def __init__(
        self,
        folder: Path,
        mill: Mill,
        *,
        environ: Mapping[str, str],
        clock: Callable[[], datetime],
        manner: Manner,
        on_new: Callable[[], None],
        as_of: datetime | None = None,
        index: str | None = NO_INDEX,
    ) -> None:
        self._folder = folder
        self._studies = Studies(environ)
        self._mill = mill
        self._environ = environ
        self._clock = clock
        self._on_new = on_new
        self._as_of = as_of
        self._register_fault: _Fault | None = None
        self._own_fault: _Fault | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="keeping", daemon=True)
        self._busy_since: float | None = None
        self._owed_since: float | None = None  # a picture of what was read or has passed
        self._rings = Rings()
        self._vanished = Vanished(file_of(folder, environ) if as_of is None else None)
        self._holding = Holding(folder, mill, environ, clock, index, self._may_fold)
        # what was read and is gone before the watching begins is told too, the register as well
        read = (*self._holding.shelf.files, folder / REGISTER_NAME)
        self._watch = FolderWatch(folder, manner=manner, remembered=read)
        self._picture = self._new_picture(Batch())

    def __enter__(self) -> Keeping:
        self._rings.__enter__()
        self._watch.__enter__()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        self._watch.__exit__(None, None, None)
        self._thread.join(_LAST_WORK_S)
        self._holding.close()
        self._rings.__exit__()

    @property
    def picture(self) -> Picture:
        """The newest picture. One that is long in coming is a trouble of its own."""
        picture, since = self._picture, self._busy_since
        if since is None or time.monotonic() - since < PATIENCE_S:
            return picture
        seen = picture.summary.as_of.astimezone(self._mill.zone)
        told = f"{seen:%Y-%m-%d %H:%M:%S}: what was saved is still being read, if the drive answers"
        return replace(picture, trouble="; ".join(filter(None, (picture.trouble, told))))

    def _may_fold(self) -> bool:
        """Whoever draws waits for the next picture, which is being made of what has changed."""
        return threading.current_thread() is self._thread or not self._thread.is_alive()

    def _keep(self) -> None:
        drawn_minute = self._minute()
        if self._picture.summary.snapshot.tally.lines > _WORTH_READYING:
            # an old line that changes has many read again
            self._holding.reader.expect(_WORTH_READYING)
        while not self._stopping.is_set():
            batch = self._watch.wait(self._until_next_look())
            if self._stopping.is_set():
                return
            self._busy_since = time.monotonic()
            try:
                minute = self._minute()  # the clock may be set while the picture is made
                if not self._brought_up_to_date(batch, drawn_minute):
                    continue
                drawn_minute = minute
            except Exception as error:  # the board must stay up and say that it is not current
                since = self._own_fault.since if self._own_fault else self._clock()
                self._own_fault = _Fault(since, f"rebuilding failed: {error!r}")
                self._picture = replace(self._picture, trouble=self._trouble(batch))
                self._owed_since = None  # it is tried again with the next look, not at once
            finally:
                self._busy_since = None
            self._on_new()
            if not self._watch.has_news():
                self._rings.at_rest()

    def _brought_up_to_date(self, batch: Batch, drawn_minute: datetime) -> bool:
        """Read what is to be read and make a picture of it; False where there is nothing new."""
        try:
            settled = self._holding.shelf.settle(self._clock())
            changed = self._take(batch)
            if changed or settled:
                batch = self._with_the_rest(batch)
            elif not self._trouble(batch):
                settled = self._holding.again()
            told = self._trouble(batch) != self._picture.trouble
            owed = changed or settled or told or self._minute() != drawn_minute
            if not owed and self._owed_since is None:
                if self._holding.index is not None:
                    self._holding.index.commit()  # a transaction left open keeps other programs out
                return False
            self._owed_since = self._owed_since or time.monotonic()
            self._picture = self._new_picture(batch)
        except _SavedMeanwhile:
            return False
        except Unusable as error:
            self._holding.leave(error)
            self._owed_since = None
            self._picture = self._new_picture(batch)
        self._owed_since = None
        return True

    def _meanwhile(self) -> None:
        """Raises _SavedMeanwhile where a picture is better made of what was saved just now."""
        since = self._owed_since
        may_wait = since is not None and time.monotonic() - since < _LONGEST_OWED_S
        if may_wait and self._watch.has_news():
            raise _SavedMeanwhile

    def _with_the_rest(self, batch: Batch) -> Batch:
        """Read what else is saved before a picture is made; the last batch.

        An old line that changed may have years folded anew: once for all that is saved together,
        and what is saved meanwhile does not wait for it.
        """
        until = time.monotonic() + _LONGEST_TAKING_S

        def is_to_be_read() -> bool:
            return time.monotonic() < until and self._watch.has_news()

        while len(batch.marks) >= _MANY and time.monotonic() < until:
            batch = self._taken(_FOR_MORE_S)
        while self._holding.index is not None:
            if is_to_be_read():
                batch = self._taken(0.0)
                continue
            now = self._clock()
            if self._holding.index.settle(min(self._as_of or now, now), now, is_to_be_read):
                break
            batch = self._taken(0.0)
        return batch

    def _taken(self, wait_s: float) -> Batch:
        if wait_s and self._holding.index is not None:
            self._holding.index.commit()  # nobody else waits as well
        batch = self._watch.wait(wait_s)
        self._take(batch)
        return batch

    def _turned_out(self, past: PastLives, mill: Mill) -> Held | None:
        return held_so_far(past, mill, self._environ)

    def _minute(self) -> datetime:
        return self._clock().replace(second=0, microsecond=0)

    def _until_next_look(self) -> float:
        if self._owed_since is not None:
            return 0.0  # what the picture gave way to may have been nothing new
        if self._holding.shelf.waiting or self._register_fault is not None:
            return WAITED_S
        left = self._minute() + timedelta(minutes=1) - self._clock()
        return min(max(left.total_seconds(), 0.0) + 0.01, _LONGEST_WAIT)

    def _take(self, batch: Batch) -> bool:
        again = self._own_fault is not None
        if batch.register_changed or again or self._register_fault is not None:
            self._take_register()  # one that is back may look as it did, and no signal comes
        if again:
            # how far the failed reading came is not known, and nothing of it is told twice
            self._holding.shelf.look(self._clock())
        elif batch.marks:
            self._holding.shelf.look_at(batch.marks, self._clock())
        other = batch.swept and self._holding.shelf.look_round()
        return again or batch.register_changed or bool(batch.marks) or other

    def _take_register(self) -> None:
        mill = read_mill(self._folder)
        if isinstance(mill, str):
            since = self._register_fault.since if self._register_fault else self._clock()
            self._register_fault = _Fault(since, f"{mill}; the last good register stays in force")
            return
        self._register_fault = None
        if mill == self._mill:
            return
        self._holding.speak(mill)
        self._mill = mill  # last, so that what fails is tried again

    def _trouble(self, batch: Batch) -> str:
        faults = [f for f in (self._register_fault, self._own_fault) if f is not None]
        faults += [_Fault(held.since, held.sentence) for held in self._holding.shelf.held]
        if batch.trouble is not None:
            faults.append(_Fault(batch.trouble.since, batch.trouble.sentence))
        if not faults:
            return ""
        since = min(f.since for f in faults).astimezone(self._mill.zone)
        told = "; ".join(dict.fromkeys(f.sentence for f in faults))
        return f"{since:%Y-%m-%d %H:%M:%S}: {told}"

    def _new_picture(self, batch: Batch) -> Picture:
        now = self._as_of or self._clock()
        whole = self._holding.snapshot(now)
        self._meanwhile()
        summary = summarise(
            whole,
            turned_out=self._turned_out,
            learn=self._studies,
            meanwhile=self._meanwhile,
        )
        gone = self._vanished.of(whole.fleet, now)
        if gone:
            summary = replace(summary, gone=gone)
        look_ahead(summary)
        self._own_fault = None
        return Picture(
            summary=summary,
            trouble=self._trouble(batch),
            notices=(*batch.notices, *self._holding.notices),
        )
