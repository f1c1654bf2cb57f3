"""Words in a text that may tell of a lock, and the harmless phrases that hold such words too."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from enum import Enum

from grammar.folding import fold_word
from grammar.frozen import dataclass
from grammar.phrases import spellings
from grammar.vocabulary import Vocabulary, alternatives

# what a lock nut and the like are called, behind the word lock; and what has a lock of its own
_OF_PARTS = (
    "nut|washer|ring|screw|pin|plate|bolt|tab|collar|spring|lever|wire|sleeve|bush|bushing|wheel"
    "|plug|handle|cap|clip|disc|block|piece|bracket|button|arm|knob|cylinder|catch|latch|key"
    "|stitch|seam|step|smith|er|hole|stud|rod|shaft|gear|cam|wedge|lug|bar|paste|fluid|tite"
)
_PARTS = (
    "wedge cam door guard shuttle screw thread nut gear air gate wheel pin bolt ring clamp"
    " collar taper cone twist snap bayonet tool cable reed harness frame beam temple selvedge"
    " weft warp brake gripper rapier shaft spindle drum pulley keyway child lid cover cabinet"
    " bobbin carriage lever pick dobby jacquard needle spring ball shift stud grub hub axle"
    " motor clutch feeder roller steering position rotor head tape guide hook belt pump cutter"
    " treadle creel vapour time tension fly push spline program dead screen caps num display"
    " panel computer terminal keypad menu code scroll key rust paint oil"
    " password passwort pc laptop tablet phone keyboard bildschirm login account access file order"
    " pattern plan hook servo drive artikel ware lager spind locker crib pawl haube"
)
_HARMLESS = (
    r"(?:thread|screw|inter)[\s-]*lock\w*"
    rf"|(?:pad)?lock(?:ed|ing)?[\s-]*(?:{_OF_PARTS})s?(?!\w)"
    r"|locked\s+(?:in\s+(?:place|position)|solid|tight|with\s+loctite|rotor|screw|nut|bolt)(?!\w)"
    r"|locking(?!\w)"
    r"|isolat\w+\s+(?:transformers?|switch(?:es)?|valves?|mats?|mounts?|pads?|relays?|resistance"
    r"|amplifiers?|rubbers?|blocks?|plates?|foot|feet|tape|sleeves?|tests?|faults?|incidents?"
    r"|cases?|stops?|to\s+(?!by)|the\s+(?:fault|noise|problem|cause|leak))(?!\w)"
    r"|isolated\s+(?:weft|warp|knots?|broken|picks?|threads?|yarns?|events?|spots?|places?|marks?"
    r"|defects?|stoppages?|breaks?|ground|earth|neutral|phase)(?!\w)"
    r"|lock-?out\s+(?:relay|switch|valve|pin|box|board|station|kit|procedure|training)"
    r"|(?:fault|problem|noise|leak|cause)\s+(?:is\s+|was\s+)?isolated(?!\s+(?:by|at|since))(?!\w)"
    r"|(?:vibration|sound|noise|heat)[\s-]isolat\w*"
    r"|isolated\s+with\s+(?:tape|band|insulating|foil)(?!\w)"
    r"|lock(?:s|ed)?\s+up(?!\w)"
    r"|lock(?:ed)?[\s-]*out\s+(?:of|tags?|talks?|after)(?!\w)|on\s+lock-?out(?!\w)"
    r"|loto\s+(?:training|talk|course|board|stickers?|tags?|kit|box|procedure)(?!\w)"
    r"|tagged\s+out\s+(?:parts?|shelf|scrap)(?!\w)|locked\s+for\s+editing(?!\w)"
    r"|lock\s+(?:angle|error|fault|late|\d+\s+s)(?!\w)|schloss[\s-]*(?:schraube|der)(?!\w)"
    r"|isolated\s+(?:thick|thin|slubs?|from)(?!\w)|covid\s+isolation(?!\w)"
    r"|iso[\s-]*(?:vg|\d{2,})(?![\w])"
    r"|(?:pad)?locks?\s+seen(?!\w)"
)
_STATE = (
    r"(?:re-?)?isolated|isol|lo/to|l/o|isoliert|abgesperrt|padlocking|lock(?:ed)?[\s-]?out|locked[\s-]?off|padlocked|loto"
    r"|tag(?:ged)?[\s-]*out(?!\s+of)"
)
_INSIDE = (
    r"(?:in(?:side|to)?|under(?:neath)?|behind|not\s+out\s+of)\s+(?:(?:the|der|this|die)\s+)?"
    r"(?:machine|loom|maschine|webmaschine)"
    r"|inside|in\s+(?:it|there)|drin"
)
# a sign holds one of these: looked for first, as most texts hold none
_FIRST = (
    "isol",
    "lo/to",
    "l/o",
    "loto",
    "inside",
    "machine",
    "maschine",
    "in it",
    "in there",
    "the loom",
    "schloss",
)


class Sign(Enum):
    """What a word of isolation says."""

    STATE = "state"  # that something is isolated
    JAMMED = "jammed"  # locked: by somebody, or it is stuck
    NOUN = "noun"  # an isolation
    LOCK = "lock"
    INSIDE = "inside"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A sign in a folded line."""

    start: int
    end: int
    sign: Sign


class LockSigns:
    """Finds words of isolation in texts that were understood, with the words of one mill."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.by = frozenset((*spellings(vocabulary, ("by",)), "by", "durch", *_last(vocabulary)))
        own = [phrase for phrase in _own(vocabulary) if phrase not in self.by]
        locks = sorted(_locks(vocabulary))
        named = {word for name in vocabulary.part_by_word for word in name.split()}
        self.things = frozenset((*_PARTS.split(), *named))  # they may have locks of their own
        self.lock_words = frozenset((*locks, "lock", "locks", "padlock", "padlocks"))
        self._pattern = re.compile(
            rf"(?<![\w-])(?:(?P<harmless>{_HARMLESS})"
            rf"|(?P<state>{_STATE}|{alternatives(own)})(?!\w)"
            r"|(?P<jammed>locked)(?!\w)"
            r"|(?P<noun>isolations?|isolates?|isolating|iso)(?!\w)"
            rf"|(?P<lock>(?:pad)?locks?|vorhängeschloss|{alternatives(locks)})(?!\w)"
            rf"|(?P<inside>{_INSIDE})(?!\w))"
        )
        self._first = tuple(
            dict.fromkeys((*_FIRST, *(p.split()[0] for p in (*own, *locks) if "lock" not in p)))
        )
        self._by_kind = {sign.value: sign for sign in Sign}

    def may_be(self, text: str) -> bool:
        """Whether a folded text may hold a sign: soon told, and of most there is none."""
        if "lock" in text and "lock" in text.replace("thread-lock", ""):
            return True
        return any(map(text.__contains__, self._first))

    def found(self, text: str, start: int, end: int) -> Iterator[Found]:
        """The signs of a stretch of a folded text."""
        for match in self._pattern.finditer(text, start, end):
            kind = self._by_kind.get(match.lastgroup or "")
            if kind is not None:
                yield Found(start=match.start(), end=match.end(), sign=kind)


def _own(vocabulary: Vocabulary) -> Iterable[str]:
    """The mill's words for isolated, less the by behind them."""
    for phrase in map(fold_word, vocabulary.words_for("isolated by")):
        yield phrase.rpartition(" ")[0] or phrase
    yield from map(fold_word, vocabulary.words_for("isolated"))


def _last(vocabulary: Vocabulary) -> Iterable[str]:
    """The by of the mill's words for isolated by."""
    for phrase in map(fold_word, vocabulary.words_for("isolated by")):
        if " " in phrase:
            yield phrase.rpartition(" ")[2]


def _locks(vocabulary: Vocabulary) -> set[str]:
    """The mill's words for a lock: what their words for its removal and its look begin with."""
    told = ("lock removed", "lock removed by", "lock seen", "lock seen by")
    return {fold_word(phrase).split()[0] for kind in told for phrase in vocabulary.words_for(kind)}
