"""The names of mills in an archive: they become names of folders, so few characters may stand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from board.shell import CannotRun
from board.show.text import clean, cut

TABLES = "tables"  # the folder of the tables stands beside those of the mills

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
# names that one system or another keeps for itself
_KEPT = re.compile(rf"{TABLES}|con|prn|aux|nul|com[0-9]|lpt[0-9]", re.IGNORECASE)
_SHOWN = 60  # [cells] of a name that is refused


def is_name(name: str) -> bool:
    """Whether a mill may be called so."""
    return _NAME.fullmatch(name) is not None and _KEPT.fullmatch(name) is None


def mills_named(written: Sequence[str], known: Iterable[str] = ()) -> dict[str, Path]:
    """Mills and their folders, from ``NAME=FOLDER``. Raises CannotRun with one sentence.

    ``known`` are the names that stand in the archive already.
    """
    found: dict[str, Path] = {}
    there = {name.casefold(): name for name in known}
    for text in written:
        name, sign, folder = text.partition("=")
        shown = cut(clean(name), _SHOWN)
        if not sign or not folder:
            raise CannotRun(f"--mill takes NAME=FOLDER, not {cut(clean(text), _SHOWN)}")
        if not is_name(name):
            raise CannotRun(
                f"a mill cannot be called {shown or 'nothing'}: its name takes up to 40 letters a"
                " to z, digits, - and _, the first a letter or digit, and no name of the system's"
            )
        other = there.setdefault(name.casefold(), name)
        if name in found or other != name:
            raise CannotRun(f"two mills cannot be called {other} and {shown}")
        found[name] = Path(folder).absolute()
    return found
