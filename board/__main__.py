"""Where the program begins; ``python -m board`` is the same as ``loomslate``."""

import sys

NAMES = "--names"  # asked by a shell that completes a line, so nothing else is loaded for it


def main() -> None:
    """Answer a shell's completion, or run the command line."""
    if sys.argv[1:2] == [NAMES]:
        from board.names import main as names

        names(sys.argv[2:])
        return
    from board.cli import main as run

    run()


if __name__ == "__main__":
    main()
