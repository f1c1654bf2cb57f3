"""Names of a shed for a shell's completion: quick to start, and silent about whatever is wrong.

``loomslate --names KIND TYPED WORD...`` prints the looms, sections, parts, sides or shifts that
begin with what was typed, one a line. The words are those of the command line so far: the log
folder is found among them. Imports nothing of ours, since a shell waits for it at each key.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence

_RANGE = re.compile(r"(.*?)([0-9]+)\s*[-–]\s*.*?([0-9]+)")
_MOST_LOOMS = 5000  # of one range, as the register allows
_LARGEST = 4_000_000  # [bytes] of a register; a larger one is none
_REGISTER = "shed.toml"


def main(arguments: Sequence[str]) -> None:
    """Print the names asked for; nothing where anything is wrong. Never raises."""
    try:
        kind, typed, *words = arguments
        found = beginning(names(kind, folder_of(words)), typed)
        if found:
            text = "".join(f"{name}\n" for name in found)
            os.write(1, text.encode(sys.stdout.encoding or "utf-8", errors="ignore"))
    except BaseException:  # a shell in the middle of a line has no place for a complaint
        return


def folder_of(words: Sequence[str]) -> str:
    """The log folder that a command line names, finished or not, as its command would find it."""
    places, named, after = [], "", ""
    for word in words:
        if word == "=":
            continue  # some shells cut --folder=DIR into three
        if after == "--folder":
            named = word
        elif word.startswith("--folder="):
            named = word.removeprefix("--folder=")
        else:
            places.append(word)
        after = word
    if named:
        return _folder(named)
    standing = (folder for folder in map(_folder, places) if _holds_register(folder))
    return next(standing, os.environ.get("LOOMSLATE_LOGS") or ".")


def _folder(word: str) -> str:
    """A folder as it may be typed: in quotes, with backslashes, below the home folder."""
    if os.path.isdir(word):
        return word
    plain = re.sub(r"\\(.)", r"\1", word.strip("'\""))
    return os.path.expanduser(plain)


def _holds_register(folder: str) -> bool:
    return os.path.isfile(os.path.join(folder, _REGISTER))


def names(kind: str, folder: str) -> tuple[str, ...]:
    """The names of a kind in a folder's register, in its order, each once.

    Raises OSError or ValueError where there is no register that can be read or no such kind.
    """
    import tomllib

    with open(os.path.join(folder, _REGISTER), "rb") as file:
        register = tomllib.loads(file.read(_LARGEST).decode("utf-8-sig"))
    found = dict.fromkeys(_of_kind(kind, register))
    return tuple(name for name in found if isinstance(name, str) and name.isprintable() and name)


def _of_kind(kind: str, register: Mapping[str, object]) -> Iterable[str]:
    match kind:
        case "looms":
            return _looms(register)
        case "sections":
            return _tables(register, "section")
        case "parts":
            return _parts(register)
        case "sides":
            return _sides(register)
        case "shifts":
            return _tables(register.get("shed"), "shifts")
        case _:
            raise ValueError(kind)


def beginning(known: Sequence[str], typed: str) -> list[str]:
    """The names that begin with what was typed, in any case; else those that do without zeros.

    Not both: a shell goes on with what all have in common, and would take away what was typed.
    """
    folded = typed.casefold()
    found = [name for name in known if name.casefold().startswith(folded)]
    bare = [(name, _without_zeros(name.casefold())) for name in known]
    found = found or [name for name, short in bare if short.startswith(folded)]
    return found or [name for name, short in bare if short == _without_zeros(folded)]


def _without_zeros(word: str) -> str:
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", word)


def _looms(register: Mapping[str, object]) -> Iterator[str]:
    for section in _tables(register, "section").values():
        for written in _texts(section, "looms"):
            match = _RANGE.fullmatch(written)
            if match is None:
                yield written
                continue
            letters, first, last = match.groups()
            wide, low, high = len(first), int(first), int(last)
            for number in range(low, min(high, low + _MOST_LOOMS) + 1):
                yield f"{letters}{number:0{wide}d}"


def _parts(register: Mapping[str, object]) -> Iterator[str]:
    for name, part in _tables(register, "part").items():
        yield name
        yield from _texts(part, "words")


def _sides(register: Mapping[str, object]) -> Iterator[str]:
    for part in _tables(register, "part").values():
        yield from _texts(part, "sides")


def _tables(register: object, key: str) -> Mapping[str, object]:
    found = register.get(key) if isinstance(register, dict) else None
    return found if isinstance(found, dict) else {}


def _texts(table: object, key: str) -> list[str]:
    found = table.get(key) if isinstance(table, dict) else None
    return [text for text in found if isinstance(text, str)] if isinstance(found, list) else []
