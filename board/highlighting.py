"""The editors' files that colour a log in the words of one mill, beside the language's own.

``python -m board.highlighting FOLDER [OUT]`` writes them to OUT, else to the present folder.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from board.commands.saving import save_whole
from board.loading import read_mill
from board.shell import COULD_NOT, FINE, CannotRun, Shell, own_shell
from board.show.text import clean
from grammar.highlighting import files


def run(arguments: Sequence[str], shell: Shell) -> int:
    """Write the files for the mill of a log folder and return the exit code."""
    try:
        if not 1 <= len(arguments) <= 2:
            raise CannotRun("give the log folder, and the folder to write to if not here")
        mill = read_mill(Path(arguments[0]))
        if isinstance(mill, str):
            raise CannotRun(mill)
        out = Path(arguments[1] if len(arguments) == 2 else ".")
        for name, text in files(mill.vocabulary).items():
            save_whole(out / name, text)
            shell.say(f"written to {clean(str(out / name))}")
    except CannotRun as refused:
        shell.warn(refused.sentence)
        return COULD_NOT
    return FINE


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:], own_shell()))
