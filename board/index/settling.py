"""An index whose old entries are folded once for all, without a long transaction.

What is long is done while other programs may write: a stretch is folded, or a checkpoint packed, of
what stands in the tables, and put there in a transaction of its own unless somebody has written
since.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from board.index import segments, standing
from board.index.fingerprint import fingerprint
from board.index.readings import Readings
from board.index.standing import Baking
from board.index.transactions import Transactions
from board.mill import Mill
from board.record.reads import Reads
from board.state.spells import micros

BAKED_AT = 25_000  # entries that are put away, at most, before old ones are folded
IN_VAIN = 3  # how often, before folding waits for the last log: the order is not that of time


class Settling(Transactions):
    """The readings of an index, and what they come to once they are old."""

    def __init__(self, file: Path, folder: Path, mill: Mill, reader: Reads) -> None:
        """Open or make an index; ``reader`` reads in the mill's words. Raises Unusable."""
        super().__init__(file, fingerprint(folder, mill))
        self.mill = mill
        self._readings = Readings(self._connection, reader)
        self._generation = 0  # counts what may have made void what was folded
        self._unbaked = 0  # entries put away since the last baking
        self._voids = 0  # how often that was in vain
        self._last: datetime | None = None  # entry of the log that was put away last

    def settle(self, as_of: datetime, now: datetime, pause: Callable[[], bool] = bool) -> bool:
        """Commit, and keep what is old enough folded once for all; ``now`` is the clock's.

        Folding may take long: ``pause`` is asked every so often whether something else comes
        first. Whether it came to its end.
        """
        self._voids = 0
        if not self._fold_old(as_of, now, None, standing.AT_A_TIME, pause):
            return False
        self._warm(as_of)
        return True

    def _has_come(self, minute: int | None, entries: int, last: datetime | None) -> None:
        """So many entries were put away; ``minute`` [us] is the earliest they may bear on."""
        self._void(minute)
        self._unbaked += entries
        self._last = last or self._last

    def _void(self, minute: int | None) -> None:
        self._generation += 1
        if minute is not None and segments.void(self._connection, minute):
            self._voids += 1

    def _fold_many(self, now: datetime) -> None:
        """Fold what was put away once it is much, so that it need not stay in memory."""
        if self._unbaked >= BAKED_AT and self._voids < IN_VAIN and self._last is not None:
            self._fold_old(now, now, min(self._last, now), standing.AT_ONCE)

    def _fold_old(
        self,
        as_of: datetime,
        now: datetime,
        until: datetime | None,
        size: int,
        pause: Callable[[], bool] = bool,
    ) -> bool:
        """Fold what is old enough, in stretches of about so many entries; whether to the end."""
        self._unbaked = 0
        baking, generation = self._begun(as_of, now, until, size)
        overtaken = paused = False
        while baking is not None and (baking.ends or baking.owed):
            with self._telling():
                stands = self._generation == generation
                made = standing.next_of(self._readings, self.mill, baking) if stands else None
            with self._writing():
                alone = self._generation == generation
                if alone and made is not None:
                    standing.put(self._readings, baking, made)
                elif overtaken:  # two that begin anew for each other must come to an end
                    baking = self._in_one_piece(as_of, now, until, size)
                self._generation += 1
                generation = self._generation
            self.commit()
            self.let_others()
            if not alone and not overtaken:
                overtaken = True
                baking, generation = self._begun(as_of, now, until, size)
            if baking is not None and baking.ends and pause():
                paused = True
                baking.stop()
        if baking is not None and baking.arrived:
            with self._lock:
                self._readings.clear()  # years of them were read, and are not asked for soon
        return not paused

    def _begun(
        self, as_of: datetime, now: datetime, until: datetime | None, size: int
    ) -> tuple[Baking | None, int]:
        """What there is to fold once for all by now, and of what count of changes."""
        self.commit()  # nobody waits for what is looked up here
        while True:
            with self._telling():
                if not standing.is_in_the_way(self._connection, as_of, micros(now)):
                    return standing.begun(self._readings, as_of, until, size), self._generation
            with self._writing():
                standing.make_room(self._connection, as_of, micros(now))
                self._generation += 1
            self.commit()
            self.let_others()

    def _in_one_piece(
        self, as_of: datetime, now: datetime, until: datetime | None, size: int
    ) -> Baking | None:
        """Begin anew, and fold up to a checkpoint behind one stretch. Inside a transaction."""
        while standing.is_in_the_way(self._connection, as_of, micros(now)):
            standing.make_room(self._connection, as_of, micros(now))
        baking = standing.begun(self._readings, as_of, until, size)
        if baking is not None:
            for _ in ("the stretch", "its checkpoint"):
                made = standing.next_of(self._readings, self.mill, baking)
                standing.put(self._readings, baking, made)
                baking.owed = baking.begin != baking.marked
        return baking

    def _warm(self, as_of: datetime) -> None:
        """Keep the readings that each fold goes through to be unpacked, and not read again."""
        with self._telling():
            base = standing.base_for(self._connection, as_of)
            cold = self._readings.cold(base) if base is not None else []
        if cold:
            with self._writing():
                self._readings.warm(cold)
            self.commit()

    def _give_up(self) -> None:
        super()._give_up()
        self._readings.forget_checkpoint()

    def _forget(self) -> None:
        self._generation += 1
        self._readings.clear()
