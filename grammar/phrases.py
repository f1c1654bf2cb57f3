"""The key words of the language and the mill's own words, written as terminals of the grammar.

``entry.lark`` holds the shape of a line; this module adds what depends on the register: each key
phrase with the mill's aliases, and the sides, parts, quantities and shifts by all their names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from itertools import product
from pathlib import Path

from grammar.entries import Reason, Verb, WhyReplaced
from grammar.folding import fold_word
from grammar.times import CLOCK
from grammar.units import AMOUNT_PATTERN, DIGIT_PATTERN, UNIT_PATTERN
from grammar.vocabulary import Vocabulary, alternatives

# Terminal -> the key words it is made of. A phrase of several words may be aliased as a whole or
# word by word.
PHRASES: Mapping[str, tuple[str, ...]] = {
    "DAY": ("day",),
    "BY": ("by",),
    "STOPPED": ("stopped",),
    "STOPPED_FOR": ("stopped", "for"),
    "RUNNING": ("running",),
    "ISOLATED_BY": ("isolated", "by"),
    "LOCK_SEEN_BY": ("lock seen", "by"),
    "LOCK_REMOVED_BY": ("lock removed", "by"),
    "FOR": ("for",),
    "FAULT": ("fault",),
    "FAULT_CLEARED": ("fault", "cleared"),
    "GAUGE": ("gauge",),
    "ENTERS": ("enters",),
    "STAYS_OUT": ("stays out",),
    "MOVED": ("moved",),
    "FROM": ("from",),
    "TORQUE": ("torque",),
    "THREAD_LOCKED": ("thread-locked",),
    "CHECKED": ("checked",),
    "OK": ("ok",),
    "BAD": ("bad",),
    "BATCH": ("batch",),
    "COUNTER": ("counter",),
    "NEW": ("new",),
    "STYLE": ("style",),
    "OPEN": ("open",),
    "DUE": ("due",),
    "BEFORE_START": ("before start",),
    "IN": ("in",),
    "DONE": ("done",),
    "DROPPED": ("dropped",),
    "NOTE": ("note",),
    "HANDED_OVER": ("handed over",),
    "TO": ("to",),
    "TAKEN_OVER_BY": ("taken over", "by"),
    "SEALED": ("sealed",),
    "STRUCK": ("struck",),
}

# Key words that stand inside a terminal or a free text, and may be aliased too.
INNER_WORDS = ("no", "all", "shed")

VERBS = tuple(verb.value for verb in Verb)
REASONS = tuple(reason.value for reason in Reason)
WHYS = tuple(why.value for why in WhyReplaced)

KEY_PHRASES: frozenset[str] = frozenset(
    {" ".join(words) for words in PHRASES.values()}
    | {word for words in PHRASES.values() for word in words}
    | {*INNER_WORDS, *VERBS, *REASONS, *WHYS}
)

# Clauses begin with one of these; the complaints suggest from them.
CLAUSE_HEADS: tuple[str, ...] = (
    "stopped",
    "running",
    "isolated by",
    "lock seen by",
    "lock removed by",
    "fault",
    "fault cleared",
    *VERBS,
    "moved",
    "torque",
    "thread-locked",
    "checked",
    "batch",
    "counter",
    "style",
    "open",
    "done",
    "dropped",
    "note",
    "handed over",
    "taken over by",
    "struck",
    "by",
)

# What may stand right behind a key word or a part: `fault: left head`, `stopped.`
_CLOSE = r"[.,:]*(?![^\s;])\s*"


def spellings(vocabulary: Vocabulary, words: tuple[str, ...]) -> tuple[str, ...]:
    """All folded spellings of a key phrase given by its words, the language's own first."""
    whole = " ".join(words)
    found = [fold_word(" ".join(combination)) for combination in _combinations(vocabulary, words)]
    found += [fold_word(alias) for alias in vocabulary.words_for(whole)]
    return tuple(dict.fromkeys(found))


def _combinations(vocabulary: Vocabulary, words: tuple[str, ...]) -> list[tuple[str, ...]]:
    return list(product(*((word, *vocabulary.words_for(word)) for word in words)))


def names_by_word(vocabulary: Vocabulary, names: tuple[str, ...]) -> dict[str, str]:
    """Each folded spelling of the given key words, with the key word it stands for."""
    return {word: name for name in names for word in spellings(vocabulary, (name,))}


def rank(words: tuple[str, ...]) -> int:
    """How early a key phrase is tried: the more words it has, the earlier."""
    return 20 + len(words[0].split()) + len(words)


def grammar_text(vocabulary: Vocabulary) -> str:
    """The whole Lark grammar for a mill, word by word: for whoever asks what may come next."""
    return _filled(_word_by_word(_shape()), vocabulary)


def reading_grammar(vocabulary: Vocabulary) -> str:
    """The same grammar with as few and as rich terminals as can be: for reading fast."""
    return _filled(_shape(), vocabulary)


def _shape() -> str:
    return Path(__file__).with_name("entry.lark").read_text(encoding="utf-8")


# A terminal that is made of others alone, and what is no word in it.
_MADE_OF_OTHERS = re.compile(r"^([A-Z_]+)\.[0-9]+: ([A-Z_?* ]+)$", re.MULTILINE)
_NO_WORDS = {
    "CLOCK": "STAMP",
    "ONWARDS": "",
    "FREE?": "SEP?",
    "MAYBE_INDEX": "INDEX?",
    "NUMBER_NEXT": "",
}


def _word_by_word(shape: str) -> str:
    """Turns the terminals that are made of others into rules."""
    made = {name: f"{name.lower()}_words" for name, _ in _MADE_OF_OTHERS.findall(shape)}

    def as_rule(match: re.Match[str]) -> str:
        words = " ".join(_NO_WORDS.get(word, word) for word in match[2].split())
        return f"{made[match[1]]}: {words}"

    rules = _MADE_OF_OTHERS.sub(as_rule, shape)
    return re.sub("|".join(rf"\b{name}\b" for name in made), lambda m: made[m[0]], rules)


def _filled(shape: str, vocabulary: Vocabulary) -> str:
    for name, pattern in _inner_patterns(vocabulary).items():
        shape = shape.replace(f"<{name}>", pattern.replace("/", r"\/"))
    lines = [
        _terminal(name, rank(words), spellings(vocabulary, words))
        for name, words in PHRASES.items()
    ]
    lines += [
        _terminal("VERB", 20, names_by_word(vocabulary, VERBS)),
        _terminal("REASON", 20, names_by_word(vocabulary, REASONS)),
        _terminal("SIDE", 19, vocabulary.side_by_word),
        _terminal("PART", 18, vocabulary.part_by_word),
        _terminal("QUANTITY", 18, vocabulary.quantity_words),
        _terminal("SHIFT", 18, vocabulary.shift_by_word),
        _terminal("FILLER", 17, map(fold_word, vocabulary.fillers)),
    ]
    return shape + "\n".join(lines) + "\n"


def key_word(words: Iterable[str], group: str = "") -> str:
    """A pattern for any of the folded words, with what a writer may set behind it.

    The word itself is a group where a name for it is given.
    """
    begin = f"(?P<{group}>" if group else "(?:"
    return f"{begin}{alternatives(words)}){_CLOSE}"


def _inner_patterns(vocabulary: Vocabulary) -> dict[str, str]:
    def any_of(words: Iterable[str]) -> str:
        return f"(?:{alternatives(words)})"

    counted = (*vocabulary.quantity_words, *spellings(vocabulary, ("gauge",)))
    return {
        "INDEX": rf"[0-9]{{1,4}}[,:]?(?=\s+(?:{any_of(counted)}(?![\w-])|{DIGIT_PATTERN}))"
        rf"(?!\s+{UNIT_PATTERN})\s*",
        "CLOCK": CLOCK.pattern,
        "AMOUNT": AMOUNT_PATTERN,
        "DIGIT": DIGIT_PATTERN,
        "UNIT": UNIT_PATTERN,
        "NO": any_of(spellings(vocabulary, ("no",))),
        "OK": any_of(spellings(vocabulary, ("ok",))),
        "BAD": any_of(spellings(vocabulary, ("bad",))),
        "BY": any_of(spellings(vocabulary, ("by",))),
    }


def _terminal(name: str, priority: int, words: Iterable[str]) -> str:
    pattern = key_word(words).replace("/", r"\/")
    return f"{name}.{priority}: /{pattern}/"
