"""The words of a register, refused where one of them would mean two things.

Every word that can stand in the same place of a line is looked at together: key words, the mill's
aliases, sides, parts and fillers. Shifts, looms and sections have places of their own but may not
be called like a key word.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import field, replace

from board.mill import Part
from board.record.register_fields import Source, Table, name_fault, shortened
from board.record.toml_lines import KeyPath
from grammar.entries import Reason
from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.nearest import nearest
from grammar.phrases import KEY_PHRASES, PHRASES, VERBS, WHYS, spellings
from grammar.vocabulary import Vocabulary

_KEY_WORD = "the key word"
LEFT_AND_RIGHT = ("left", "right")

# Terminals that never begin a clause, with the place in a clause where they compete.
_INSIDE: Mapping[str, str] = {
    "DAY": "heading",
    "GAUGE": "behind a part",
    "ENTERS": "gauge",
    "STAYS_OUT": "gauge",
    "FROM": "from",
    "OK": "verdict",
    "BAD": "verdict",
    "NEW": "meter",
    "BEFORE_START": "due",
    "IN": "due",
    "TO": "to",
}
_CLAUSE = "clause"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alias:
    """A word of the mill: the key phrase, side or reason it stands for (none: a filler)."""

    word: str
    phrase: str
    path: KeyPath


@dataclass(frozen=True, slots=True)
class _Claim:
    """What a word means already, in words, and where the register says so."""

    meaning: str
    path: KeyPath | None = None


@dataclass(slots=True)
class _Claims:
    """Every folded word with its one meaning."""

    source: Source
    by_word: dict[str, _Claim] = field(default_factory=dict)

    def claim(self, word: str, meaning: str, path: KeyPath | None) -> None:
        """Gives a word a meaning; refuses it where it has another."""
        folded = fold_word(word)
        known = self.by_word.setdefault(folded, _Claim(meaning, path))
        if known.meaning == meaning:
            return
        if path is None and known.path is None:
            return  # the language's own words, told apart by their place in the line
        at = path if path is not None else known.path
        assert at is not None
        other = meaning if path is None else known.meaning
        raise self.source.refuse(
            at, f'"{shortened(word)}" already means {other}{self._where(at, known)}'
        )

    def _where(self, at: KeyPath, known: _Claim) -> str:
        if known.path is None or known.path == at:
            return ""
        line = self.source.line(known.path)
        return f" (line {line})" if line else ""


# -- reading -------------------------------------------------------------------------------


def read_aliases(words: Table, reasons: Table, sides: Iterable[str]) -> dict[str, list[Alias]]:
    """The aliases of each language table, and under ``""`` those of the reasons."""
    targets = {fold_word(t): t for t in (*sorted(KEY_PHRASES), *LEFT_AND_RIGHT, *sides)}
    found = {language: _language(table, targets) for language, table in words.tables()}
    found[""] = []
    known = tuple(reason.value for reason in Reason)
    for name, table in reasons.tables():
        if name not in known:
            raise reasons.unknown(name, known)
        table.only("words")
        for index, word in enumerate(table.texts("words")):
            path = (*table.path, "words", index)
            found[""].append(_alias(table.source, word, name, path))
    return found


def _language(table: Table, targets: Mapping[str, str]) -> list[Alias]:
    found = []
    for word, value in table.values.items():
        if not isinstance(value, str):
            raise table.refuse(word, 'expected a key word in quotes, or "" for a filler')
        phrase = targets.get(fold_word(value), "") if value.strip() else ""
        if value.strip() and not phrase:
            near = nearest(value, targets.values())
            hint = (
                f"did you mean {near}?"
                if near
                else "names of a part stand under its words, those of a symptom under its words"
            )
            raise table.refuse(word, f'"{shortened(value)}" is no key word, side or reason; {hint}')
        found.append(_alias(table.source, word, phrase, table.at(word)))
    return found


def _alias(source: Source, word: str, phrase: str, path: KeyPath) -> Alias:
    fault = name_fault(word)
    if phrase in WHYS and " " in word:
        fault = f"a word for {phrase} is a single one, as it is looked for behind a part"
    if fault:
        raise source.refuse(path, fault)
    return Alias(word=word.strip(), phrase=phrase, path=path)


def with_aliases(vocabulary: Vocabulary, aliases: Iterable[Alias]) -> Vocabulary:
    """The vocabulary with the mill's aliases and fillers in it."""
    by_phrase: dict[str, list[str]] = {}
    fillers = []
    for alias in aliases:
        if not alias.phrase:
            fillers.append(alias.word)
        elif alias.word not in by_phrase.setdefault(alias.phrase, []):
            by_phrase[alias.phrase].append(alias.word)
    return replace(
        vocabulary,
        aliases={phrase: tuple(words) for phrase, words in by_phrase.items()},
        fillers=tuple(dict.fromkeys(fillers)),
    )


# -- two meanings --------------------------------------------------------------------------


def refuse_double_meanings(
    source: Source, vocabulary: Vocabulary, aliases: Iterable[Alias], parts: tuple[Part, ...]
) -> dict[str, str]:
    """Refuses a word that means two things, or that no line could reach.

    Returns the folded key words with their aliases, each with its meaning in words.
    """
    aliases = tuple(aliases)
    claims = _Claims(source)
    for phrase in sorted(KEY_PHRASES):
        claims.claim(phrase, f"{_KEY_WORD} {phrase}", None)
    for alias in aliases:
        if alias.phrase in KEY_PHRASES:
            claims.claim(alias.word, f"{_KEY_WORD} {alias.phrase}", alias.path)
    _claim_combinations(claims, vocabulary, aliases)
    _claim_sides(claims, aliases, parts)
    for part in parts:
        for word, path in _part_words(part):
            claims.claim(word, f"the part {part.name}", path)
    for part in parts:
        for word, path in _part_words(part):
            numbered = re.fullmatch(r"(.*) [0-9]{1,4}", fold_word(word))
            if numbered and numbered[1] in vocabulary.part_by_word:
                raise source.refuse(path, f'"{word}" would read as {numbered[1]} with a number')
    for alias in aliases:
        if not alias.phrase:
            claims.claim(alias.word, "nothing, as a filler", alias.path)
    _refuse_hidden(claims, vocabulary, aliases)
    for part in parts:
        _refuse_quantity_words(source, vocabulary, part)
    key_words = {w: c.meaning for w, c in claims.by_word.items() if c.meaning.startswith(_KEY_WORD)}
    _refuse_shifts(source, vocabulary, key_words)
    return key_words


def _part_words(part: Part) -> list[tuple[str, KeyPath]]:
    path: KeyPath = ("part", part.name)
    words = [(word, (*path, "words", index)) for index, word in enumerate(part.words)]
    return [(part.name, path), *words]


def _claim_combinations(
    claims: _Claims, vocabulary: Vocabulary, aliases: tuple[Alias, ...]
) -> None:
    """Phrases made of aliases word by word: ``gesperrt`` and ``durch`` make ``isolated by``."""
    for words in PHRASES.values():
        meaning = f"{_KEY_WORD} {' '.join(words)}"
        for spelling in spellings(vocabulary, words):
            known = claims.by_word.get(spelling)
            if known is not None and known.meaning != meaning and known.path is not None:
                raise claims.source.refuse(
                    known.path,
                    f'"{shortened(spelling)}" already means {meaning}, by the words it is made of',
                )
            made_of = (
                a.path
                for a in aliases
                if (a.phrase in words or a.phrase == " ".join(words))
                and f" {fold_word(a.word)} " in f" {spelling} "
            )
            claims.claim(spelling, meaning, next(made_of, None))


def _claim_sides(claims: _Claims, aliases: tuple[Alias, ...], parts: tuple[Part, ...]) -> None:
    written: dict[str, str] = {}
    for part in parts:
        for index, side in enumerate(part.sides):
            path = ("part", part.name, "sides", index)
            first = written.setdefault(fold_word(side), side)
            if first != side:
                raise claims.source.refuse(path, f"write it as elsewhere: {first}")
            claims.claim(side, f"the side {side}", path)
    for alias in aliases:
        if alias.phrase and alias.phrase not in KEY_PHRASES:
            claims.claim(alias.word, f"the side {alias.phrase}", alias.path)


# -- words hidden behind others ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Head:
    """A spelling, what it means, how early it is tried, and in which place of a line."""

    spelling: str
    meaning: str
    rank: int
    place: str = _CLAUSE


def rank(words: tuple[str, ...]) -> int:
    """How early a key phrase is tried, as ``grammar.phrases`` numbers its terminals."""
    return 20 + len(words[0].split()) + len(words)


def _heads(vocabulary: Vocabulary) -> list[_Head]:
    found = [
        _Head(spelling, f"{_KEY_WORD} {' '.join(words)}", rank(words), _INSIDE.get(name, _CLAUSE))
        for name, words in PHRASES.items()
        for spelling in spellings(vocabulary, words)
    ]
    found += [
        _Head(spelling, f"{_KEY_WORD} {verb}", 20)
        for verb in VERBS
        for spelling in spellings(vocabulary, (verb,))
    ]
    found += [_Head(word, f"the side {side}", 19) for word, side in vocabulary.side_by_word.items()]
    return found


def _refuse_hidden(claims: _Claims, vocabulary: Vocabulary, aliases: tuple[Alias, ...]) -> None:
    """A part called ``running gear`` would be read as ``running``; so for sides and aliases."""
    heads = _heads(vocabulary)
    words = [*heads]
    words += [
        _Head(word, f"the part {part.name}", 18) for word, part in vocabulary.part_by_word.items()
    ]
    words += [_Head(fold_word(word), "", 17) for word in vocabulary.fillers]
    for word in words:
        claim = claims.by_word.get(word.spelling)
        if claim is None or claim.path is None:
            continue
        for head in heads:
            hidden = head.place == word.place and head.rank >= word.rank
            if hidden and head.meaning != word.meaning and _begins(word.spelling, head.spelling):
                raise claims.source.refuse(
                    claim.path,
                    f'"{shortened(word.spelling)}" begins with "{head.spelling}", which means '
                    f"{head.meaning} and would be read first",
                )


def _begins(word: str, beginning: str) -> bool:
    return word.startswith(beginning) and re.match(r"[^\w-]", word[len(beginning) :]) is not None


def _refuse_quantity_words(source: Source, vocabulary: Vocabulary, part: Part) -> None:
    gauge = spellings(vocabulary, ("gauge",))
    owner: dict[str, str] = {}
    for quantity in part.quantities:
        path: KeyPath = ("part", part.name, quantity.name)
        places = [(quantity.name, path)]
        places += [(w, (*path, "words", i)) for i, w in enumerate(quantity.words)]
        for word, at in places:
            folded = fold_word(word)
            first = owner.setdefault(folded, quantity.name)
            if first != quantity.name:
                raise source.refuse(at, f'"{shortened(word)}" already means the {first}')
            if any(folded == g or _begins(folded, g) for g in gauge):
                raise source.refuse(at, f'"{shortened(word)}" would be read as the word gauge')
            for name in (part.name, *part.words):
                both = vocabulary.part_by_word.get(f"{fold_word(name)} {folded}")
                if both is not None:
                    raise source.refuse(
                        at, f'"{shortened(name)} {shortened(word)}" already means the {both.name}'
                    )


def _refuse_shifts(source: Source, vocabulary: Vocabulary, key_words: Mapping[str, str]) -> None:
    for shift in vocabulary.shifts:
        folded = fold_word(shift.name)
        meaning = key_words.get(folded)
        # `early` is a usual shift, and told apart from the reason of a replacement by its place
        if meaning is not None and meaning.removeprefix(f"{_KEY_WORD} ") not in WHYS:
            raise source.refuse(("shed", "shifts", shift.name), called_like("shift", meaning))
        for word in spellings(vocabulary, ("in",)):
            if _begins(folded, word):
                raise source.refuse(
                    ("shed", "shifts", shift.name),
                    f'"{shortened(shift.name)}" begins with "{word}", which means the key word in',
                )


def called_like(what: str, meaning: str) -> str:
    """The complaint about a name that is a key word already."""
    return f"a {what} cannot be called so: the word means {meaning} already"
