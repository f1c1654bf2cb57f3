"""The key words of the language and the mill's own words, written as terminals of the grammar.

``entry.lark`` holds the shape of a line; this module adds what depends on the register: each key
phrase with the mill's aliases, and the sides, parts, quantities and shifts by all their names.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib.resources import files
from itertools import product

from grammar.entries import Reason, Verb, WhyReplaced
from grammar.folding import fold_word
from grammar.units import AMOUNT_PATTERN, UNIT_PATTERN
from grammar.vocabulary import NEVER, Vocabulary, alternatives

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

_BOUNDARY = r"(?![\w-])"


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


def grammar_text(vocabulary: Vocabulary) -> str:
    """The whole Lark grammar for a mill: the shape of a line and the mill's terminals."""
    shape = files("grammar").joinpath("entry.lark").read_text(encoding="utf-8")
    for placeholder, pattern in _inner_patterns(vocabulary).items():
        shape = shape.replace(placeholder, pattern.replace("/", r"\/"))
    lines = [
        _terminal(name, 20 + len(words[0].split()) + len(words), spellings(vocabulary, words))
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


def _inner_patterns(vocabulary: Vocabulary) -> dict[str, str]:
    def any_of(word: str) -> str:
        return f"(?:{alternatives(spellings(vocabulary, (word,)))})"

    return {
        "AMOUNT_WORD": AMOUNT_PATTERN,
        "UNIT_WORD": UNIT_PATTERN,
        "NO_WORD": any_of("no"),
        "OK_WORD": any_of("ok"),
        "BAD_WORD": any_of("bad"),
        "BY_WORD": any_of("by"),
    }


def _terminal(name: str, priority: int, words: Iterable[str]) -> str:
    pattern = alternatives(words)
    if pattern == NEVER:
        return f"{name}.{priority}: /\\x00never/"
    escaped = pattern.replace("/", r"\/")
    return f"{name}.{priority}: /(?:{escaped}){_BOUNDARY}/"
