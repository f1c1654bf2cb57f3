"""What may stand at each place of a command line, told by its parser, for a shell to complete.

``completion_scripts`` writes it in the shells' own languages; the names of a shed are asked of
``names`` while somebody types.
"""

from __future__ import annotations

from argparse import SUPPRESS, Action, ArgumentParser, Namespace, _SubParsersAction
from collections.abc import Mapping, Sequence
from enum import Enum
from typing import NoReturn

from grammar.frozen import dataclass

SHELLS = ("bash", "zsh", "fish")


class CompletionAsked(Exception):
    """A script was asked for in place of a command; ends the reading of the command line."""

    def __init__(self, shell: str) -> None:
        super().__init__(shell)
        self.shell = shell


class AskCompletion(Action):
    """The option that asks for a script."""

    def __call__(
        self,
        parser: ArgumentParser,
        namespace: Namespace,
        values: str | Sequence[object] | None,
        option_string: str | None = None,
    ) -> NoReturn:
        """Raise CompletionAsked with the shell that was named."""
        raise CompletionAsked(str(values))


class What(Enum):
    """What is offered for a value."""

    NOTHING = "nothing"
    WORDS = "words"
    FILES = "files"
    FOLDERS = "folders"
    NAMES = "names"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What is offered for a value: words that are told here, or a kind of names of the shed."""

    what: What
    words: tuple[str, ...] = ()
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """An option: its spellings, its help, and what is offered for its value, if it takes one."""

    spellings: tuple[str, ...]
    help: str
    metavar: str = ""
    offer: Offer | None = None
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """An argument without a name: what is offered for it, and whether it may come again."""

    metavar: str
    offer: Offer
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """A command with its options and places; the program itself is the one without a name."""

    name: str
    summary: str
    options: tuple[Option, ...]
    places: tuple[Place, ...] = ()


NOTHING = Offer(what=What.NOTHING)
_FILES = Offer(what=What.FILES)
_FOLDERS = Offer(what=What.FOLDERS)

# What is offered for a value, by the word that stands for it in the help.
BY_METAVAR: Mapping[str, Offer] = {
    "DIR": _FOLDERS,
    "FOLDER": _FOLDERS,
    "OUT": _FOLDERS,
    "FILE": _FILES,
    "FOLDER or FILE": _FILES,
    "LOOM": Offer(what=What.NAMES, kind="looms"),
    "PART": Offer(what=What.NAMES, kind="parts"),
    "SIDE": Offer(what=What.NAMES, kind="sides"),
    "'ENTRY'": NOTHING,
    "ADDRESS": NOTHING,
    "DAYS": NOTHING,
    "N": NOTHING,
    "NAME=FOLDER": NOTHING,
    "SPAN": NOTHING,
    "TIME": NOTHING,
    "TIME or WHO": NOTHING,
    "WHO": NOTHING,
    "WORD": NOTHING,
    "WORDS": NOTHING,
}

# One word of the help may stand for names of several kinds.
BY_OPTION: Mapping[str, Offer] = {
    "--section": Offer(what=What.NAMES, kind="sections"),
    "--shift": Offer(what=What.NAMES, kind="shifts"),
}


def described(parser: ArgumentParser) -> tuple[Command, ...]:
    """The program and then each of its commands, in the order of its help.

    Raises KeyError for a value of which it is not settled what to offer.
    """
    found = [_command("", "", parser)]
    for action in parser._actions:
        if isinstance(action, _SubParsersAction):
            told = {one.dest: one.help or "" for one in action._choices_actions}
            found += [_command(name, told[name], sub) for name, sub in action.choices.items()]
    return tuple(found)


def _command(name: str, summary: str, parser: ArgumentParser) -> Command:
    shown = [action for action in parser._actions if action.help is not SUPPRESS]
    return Command(
        name=name,
        summary=summary,
        options=tuple(_option(action) for action in shown if action.option_strings),
        places=tuple(
            Place(
                metavar=str(action.metavar),
                offer=_offer(action),
                repeated=action.nargs in ("*", "+"),
            )
            for action in shown
            if not action.option_strings and not isinstance(action, _SubParsersAction)
        ),
    )


def _option(action: Action) -> Option:
    takes = action.nargs != 0
    return Option(
        spellings=tuple(action.option_strings),
        help=" ".join((action.help or "").split()),
        metavar=str(action.metavar or action.dest.upper()) if takes else "",
        offer=_offer(action) if takes else None,
        repeated=type(action).__name__ == "_AppendAction",
    )


def _offer(action: Action) -> Offer:
    if action.choices is not None:
        return Offer(what=What.WORDS, words=tuple(str(choice) for choice in action.choices))
    for spelling in action.option_strings:
        if spelling in BY_OPTION:
            return BY_OPTION[spelling]
    if action.metavar == "KIND":
        return _kinds()
    return BY_METAVAR[str(action.metavar)]


def _kinds() -> Offer:
    """The kinds of clause; the grammar is loaded only where a script is asked for."""
    from grammar.entries import KINDS, Verb

    words = (*KINDS.values(), *(verb.value for verb in Verb))
    return Offer(what=What.WORDS, words=tuple(dict.fromkeys(words)))
