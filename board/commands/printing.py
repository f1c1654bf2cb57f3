"""Pages for paper on standard output, and on a terminal how to get them onto paper."""

from __future__ import annotations

from collections.abc import Sequence

from board.shell import Shell
from board.show.moments import counted


def put_pages(shell: Shell, pages: Sequence[Sequence[str]], command: str) -> None:
    """Write the pages; on a terminal, say how many there are and how they are printed."""
    # a printer begins a new sheet of paper at a form feed, a terminal has no use for it
    between = "\n\f" if shell.piped else "\n\n"
    shell.put(between.join("\n".join(page) for page in pages) + "\n")
    if not shell.piped:
        told = f"{counted(len(pages), 'page')} of paper."
        shell.say(f"\n{told} To print: loomslate {command} | lp, or --html FILE for a browser.")
