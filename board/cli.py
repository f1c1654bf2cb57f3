"""The command line: parses the options, runs the command, turns what goes wrong into a sentence."""

from __future__ import annotations

import gc
import os
import sys
from argparse import ArgumentParser, Namespace, RawDescriptionHelpFormatter
from collections.abc import Sequence
from importlib import import_module
from typing import Any, NoReturn

from board.completion import SHELLS, AskCompletion, CompletionAsked
from board.shell import COULD_NOT, FINE, INTERRUPTED, CannotRun, Shell, own_shell

COMMANDS = (
    "board",
    "watch",
    "write",
    "check",
    "loom",
    "find",
    "repeats",
    "wear",
    "lives",
    "spares",
    "figures",
    "round",
    "handover",
    "tables",
    "archive",
)


class _Parser(ArgumentParser):
    """Tells a wrong option in one sentence instead of a page of usage."""

    def error(self, message: str) -> NoReturn:
        raise CannotRun(f"{message}; see {self.prog} --help")


def _no_command(word: str) -> CannotRun:
    """What is said of a word that is no command, with the nearest one."""
    from grammar.nearest import did_you_mean

    told = did_you_mean(word, COMMANDS) or "see loomslate --help"
    return CannotRun(f"there is no command {word}; {told}")


def parser(chosen: str | None = None) -> ArgumentParser:
    """The parser of the whole command line; of the commands only the chosen one is filled in."""
    top = _Parser(
        prog="loomslate",
        description="A shift handover and fleet status board for a weaving shed, from plain-text"
        " logs.\nA written record, not an isolation permit.",
        epilog="example: loomslate board logs_example --at 2026-11-25T06:00",
        formatter_class=RawDescriptionHelpFormatter,
    )
    top.add_argument(
        "--completion",
        choices=SHELLS,
        action=AskCompletion,
        help="print what this shell needs to complete commands, options and the shed's names",
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in COMMANDS:
        if chosen is not None and name != chosen:
            continue
        module = command(name)
        sub = commands.add_parser(
            name,
            help=module.SUMMARY,
            description=module.SUMMARY[:1].upper() + module.SUMMARY[1:] + ".",
            epilog=f"example: {module.EXAMPLE}",
            formatter_class=RawDescriptionHelpFormatter,
        )
        module.add(sub)
        sub.set_defaults(run=module.run)
    return top


def command(name: str) -> Any:
    """The module of a command."""
    return import_module(f"board.commands.{name}")


def run(arguments: Sequence[str], shell: Shell) -> int:
    """Run one command line and return its exit code."""
    chosen = next((a for a in arguments if not a.startswith("-")), None)
    options: Namespace | None = None
    try:
        if arguments and arguments[0] == chosen and chosen not in COMMANDS:
            raise _no_command(chosen)
        options = parser(chosen if chosen in COMMANDS else None).parse_args(arguments)
        code = _carried_out(options, shell)
        shell.stdout.flush()
    except CompletionAsked as asked:
        return _completion(asked.shell, shell)
    except CannotRun as refused:
        if refused.already_told and getattr(options, "json", False):
            shell.warn(refused.already_told)  # standard output holds a JSON document or nothing
        elif refused.already_told:
            shell.say(refused.already_told)
        shell.warn(refused.sentence)
        return COULD_NOT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # the reader of a pipe has gone: no error, and nothing more may be written
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code


def _completion(name: str, shell: Shell) -> int:
    """Print the script by which a shell completes the command line."""
    from board.completion import described
    from board.completion_scripts import script

    shell.put(script(name, described(parser())))
    return FINE


def _carried_out(options: Namespace, shell: Shell) -> int:
    """Run the command; once more without an index, where that fails in the middle of it."""
    with shell.at_end:
        try:
            code: int = options.run(options, shell)
        except CannotRun:
            raise
        except Exception as error:
            if not _of_an_index(error):
                raise
            shell.warn(f"{error}; the logs are read without it")
        else:
            return code
    options.index = "none"
    with shell.at_end:
        again: int = options.run(options, shell)
    return again


def _of_an_index(error: Exception) -> bool:
    """Whether a trouble is one of the index alone, which is not loaded where none is used."""
    module = type(error).__module__
    return module.startswith("board.index.")


def main() -> None:
    """The program's entry."""
    gc.disable()  # a command makes values by the ten thousand, no rings of them, and is soon over
    # numpy's linear algebra keeps a thread for each core, and they wait by turning round: a board
    # took 0.1 s of another core, and nothing here is large enough to be shared out
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(run(sys.argv[1:], own_shell()))
