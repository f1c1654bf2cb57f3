"""The register, ``shed.toml``, read into a ``Mill`` or refused with one plain sentence.

Refuses whatever contradicts itself or could never be written in a log: nothing is guessed and no
limit is built in. Reading the file itself is left to the caller; fields, parts and words have
modules of their own.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import replace
from zoneinfo import ZoneInfo, available_timezones

from board.mill import Mill, Part, Section
from board.record.register_after import read_after
from board.record.register_fields import (
    Refused,
    RegisterFault,
    Source,
    Table,
    name_fault,
    place_fault,
    shortened,
)
from board.record.register_looms import read_looms, refuse_double_places
from board.record.register_parts import names, read_part
from board.record.register_rules import (
    read_calendar,
    read_rules,
    read_shifts,
    read_spares,
    read_style_speeds,
)
from board.record.register_words import (
    LEFT_AND_RIGHT,
    Alias,
    read_aliases,
    refuse_double_meanings,
    with_aliases,
)
from board.record.toml_lines import key_lines
from grammar.folding import fold_word
from grammar.nearest import did_you_mean
from grammar.vocabulary import PartWords, QuantityWords, Vocabulary

__all__ = ["RegisterFault", "read_register"]

_TABLES = (
    "shed",
    "section",
    "part",
    "reason",
    "symptom",
    "style",
    "calendar",
    "rules",
    "words",
    "spares",
)
_AT_LINE = re.compile(r"\s*\(at (?:line ([0-9]+), column [0-9]+|end of document)\)$")
_KEYS = re.compile(r"\('[^)]*\)")  # tomllib names a table as a tuple
_QUOTED = re.compile("'([^']*)'")
_REPEATED = re.compile("overwrite|twice|duplicate|mutate", re.IGNORECASE)


def read_register(text: str | bytes, path: str = "shed.toml") -> Mill | RegisterFault:
    """What a register says, or the first fault found in it. Never raises on text.

    ``path`` is only named in the fault.
    """
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    try:
        return replace(_mill(_top(text, path)), digest=hashlib.sha256(data).hexdigest())
    except Refused as refused:
        return refused.fault


# -- TOML ----------------------------------------------------------------------------------


def _decoded(data: bytes, path: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _not_toml(path, line, "the line is not UTF-8; set the editor to UTF-8") from None


def _top(given: str | bytes, path: str) -> Table:
    text = given if isinstance(given, str) else _decoded(given, path)
    text = text.removeprefix("\ufeff")
    source = Source(path=path, text=text)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _repeated(source, str(error)) or _toml_error(path, text, str(error)) from None
    except (ValueError, RecursionError):
        raise _not_toml(path, 0, "a number or list in it is too long to be read") from None
    return Table(source=source, path=(), values=values)


def _repeated(source: Source, message: str) -> Refused | None:
    """The fault of a key that stands twice, which tomllib tells without its first line."""
    twice = key_lines(source.text).twice
    if not twice or not _REPEATED.search(message):
        return None
    fault = source.refuse(twice[0].path, f"stands twice, first in line {twice[0].first}").fault
    return Refused(replace(fault, line=twice[0].second))


def _toml_error(path: str, text: str, message: str) -> Refused:
    found = _AT_LINE.search(message)
    last = len(text.rstrip("\n").split("\n"))
    line = 0 if found is None else int(found[1]) if found[1] else last
    plain = _KEYS.sub(lambda keys: ".".join(_QUOTED.findall(keys[0])), _AT_LINE.sub("", message))
    return _not_toml(path, line, f"this is no TOML: {plain[:1].lower()}{plain[1:]}")


def _not_toml(path: str, line: int, message: str) -> Refused:
    return Refused(RegisterFault(line=line, key="", message=message, path=path))


# -- the whole register --------------------------------------------------------------------


def _mill(top: Table) -> Mill:
    top.only(*_TABLES)
    shed = _needed_table(top, "shed", "the register begins with it")
    shed.only("name", "zone", "languages", "shifts")
    zone = _zone(shed)
    shifts = read_shifts(_needed_table(shed, "shifts", 'write like early = "06:00-14:00"'))
    parts = tuple(read_part(table) for _, table in top.table("part").tables())
    sides = tuple(dict.fromkeys(side for part in parts for side in part.sides))
    sections = _sections(top, sides)
    vocabulary = Vocabulary(
        zone=zone,
        shifts=shifts,
        sections={section.name: section.looms for section in sections},
        parts=tuple(map(_part_words, parts)),
        symptoms=_symptoms(top.table("symptom")),
    )
    aliases = _aliases(top, shed, sides)
    vocabulary = with_aliases(vocabulary, aliases)
    key_words = refuse_double_meanings(top.source, vocabulary, aliases, parts)
    refuse_double_places(top.table("section"), vocabulary, key_words)
    parts = tuple(
        replace(
            part, after=read_after(top.table("part").table(part.name).table("after"), vocabulary)
        )
        for part in parts
    )
    return Mill(
        name=shed.text("name") or "",
        zone=zone,
        shifts=shifts,
        sections=sections,
        vocabulary=vocabulary,
        parts=parts,
        rules=read_rules(top.table("rules")),
        calendar=read_calendar(top.table("calendar")),
        spares=read_spares(top.table("spares"), parts),
        style_speeds=read_style_speeds(top.table("style")),
    )


def _needed_table(table: Table, key: str, message: str) -> Table:
    if key not in table:
        raise table.missing(key, message)
    return table.table(key)


def _zone(shed: Table) -> ZoneInfo:
    name = shed.text("zone")
    if name is None:
        raise shed.missing("zone", 'write the time zone, like zone = "Europe/London"')
    odd = name.startswith(("posix/", "right/")) or name in ("localtime", "posixrules", "Factory")
    try:
        if not odd:
            return ZoneInfo(name)
    except (OSError, ValueError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        pass
    known = sorted(available_timezones())
    if not known:
        raise shed.refuse("zone", "this machine knows no time zones; install the package tzdata")
    near = did_you_mean(name, known)
    hint = f"; {near}" if near else ', expected one like "Europe/London"'
    raise shed.refuse("zone", f'"{shortened(name)}" is no time zone{hint}')


def _sections(top: Table, sides: tuple[str, ...]) -> tuple[Section, ...]:
    tables = _needed_table(top, "section", "write at least one, like [section.A] with its looms")
    found = []
    for name, table in tables.tables():
        fault = place_fault(name)
        if fault:
            raise tables.refuse(name, fault)
        table.only("looms", "speed", "giver")
        found.append(
            Section(
                name=name,
                looms=read_looms(table),
                speed=table.above_zero("speed"),
                giver=_giver(table, sides),
            )
        )
    if not found:
        message = "no section stands here; write one like [section.A]"
        raise top.source.refuse(tables.path, message)
    return tuple(found)


def _giver(table: Table, sides: tuple[str, ...]) -> str | None:
    written = table.text("giver")
    if written is None:
        return None
    known = {fold_word(side): side for side in (*LEFT_AND_RIGHT, *sides)}
    side = known.get(fold_word(written))
    if side is None:
        expected = " or ".join(dict.fromkeys(known.values()))
        raise table.refuse("giver", f'"{shortened(written)}" is no side; expected {expected}')
    return side


def _part_words(part: Part) -> PartWords:
    return PartWords(
        name=part.name,
        sides=part.sides,
        words=part.words,
        quantities=tuple(
            QuantityWords(name=q.name, unit=q.unit, plausible=q.plausible, words=q.words)
            for q in part.quantities
        ),
    )


def _symptoms(tables: Table) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    owner: dict[str, str] = {}
    for name, table in tables.tables():
        fault = name_fault(name)
        if fault:
            raise tables.refuse(name, fault)
        table.only("words")
        found[name] = names(table, "words")
        for index, word in enumerate((name, *found[name])):
            first = owner.setdefault(fold_word(word), name)
            if first != name:
                message = f'"{shortened(word)}" already means the symptom {shortened(first)}'
                if index == 0:
                    raise tables.refuse(name, message)
                raise table.refuse_element("words", index - 1, message)
    return found


def _aliases(top: Table, shed: Table, sides: tuple[str, ...]) -> tuple[Alias, ...]:
    words = top.table("words")
    tables = read_aliases(words, top.table("reason"), sides)
    chosen = list(tables[""])
    for index, language in enumerate(shed.texts("languages")):
        if language not in words:
            near = did_you_mean(language, list(words.values))
            hint = near or f"write a table [words.{language}]"
            raise shed.refuse_element(
                "languages", index, f"no table of words for {shortened(language)}; {hint}"
            )
        chosen += tables[language]
    return tuple(chosen)
