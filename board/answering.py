"""A question put to the lines of a folder, by way of its index or without."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from board.loading import NO_INDEX, load, wants_index
from board.mill import Mill
from board.search import Answer, Question, search
from board.searched import lines_in
from board.shell import Shell

if TYPE_CHECKING:
    from board.index.index import Index
    from board.record.shelf import Shelf


def answer_to(
    question: Question,
    folder: Path,
    mill: Mill,
    at: datetime | None,
    shell: Shell,
    named: str | None = None,
    *,
    around: int = 0,
) -> Answer:
    """What the lines of a folder answer as of a moment, or as of now.

    ``named`` is the file of the index, ``none`` for none. No more is read and folded than the
    question needs. Raises CannotRun where no log can be read.
    """
    now = shell.clock()
    if wants_index(named):
        from board.index.finding import find
        from board.indexed import by_index

        def made(index: Index, shelf: Shelf) -> Answer:
            index.settle(min(at or now, now), now)
            return find(index, at or now, question, around=around, written_by=at)

        answer = by_index(folder, mill, made, now, shell, named)
        if answer is not None:
            return answer
    whole = lines_in(load(folder, mill, at, shell, NO_INDEX).snapshot)
    return search(whole, question, around=around, written_by=at)
