"""``python -m board`` is the same as ``loomslate``."""

from board.cli import main

main()
