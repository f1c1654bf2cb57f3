"""Who is somebody in a text: initials, names and people told by their work, word by word.

Initials are letters that were written as capitals. What a capital letter alone cannot tell, the
place of a word beside a lock does: that is left to ``lock_in_text``.
"""

from __future__ import annotations

import re
from collections.abc import Set
from enum import Enum
from itertools import islice

from grammar.folding import Folded
from grammar.frozen import dataclass

_LETTER = r"[^\W\d_]"
_TOKEN = re.compile(
    rf"{_LETTER}(?:\.{_LETTER})+(?!\w)\.?(?:['’]s)?"  # t.n.
    r"|[^\W_]*\d\w*(?:[.:]\d+)*"  # 14, n08, 22:30
    rf"|{_LETTER}+(?:['’-]{_LETTER}+)*['’]?"
    r"|[^\w\s]"
)
_POSSESSIVE = re.compile(r"['’]s?\Z")
_MOST = 4  # letters of initials
_MOST_TOKENS = 400  # of a text that are looked at; keeps hostile text cheap


def words(text: str) -> frozenset[str]:
    """The words of a list that is written as one text."""
    return frozenset(text.split())


# never initials: of the trade, and words that are written in capitals to be seen
_TRADE = words(
    "lh rh nde abb acc asap bsp btw eta esd faq fyi gmt hmi hp hse hv id inc iso kv kw led"
    " loto lv m max mcb mcc min nfc nok nr pat pcb pdf pid plc ppe ppm psa psi ptw qa qc qr"
    " rcd rpm sms sop std tba tbc tbd ups usb utc vac vdc vfd vg"
)
# in capitals among small letters only where a lock is theirs: words, current and the clock
_DOUBTFUL = words("ac am at be by dc do go if in is it my no of off ok on or pm so to tv up us")
# words of a text that is all in capitals, or that are put in capitals to be heeded
SMALL = words(
    "a all am an and any are as ask at auf aus bad bei both box but by can cut das day dem"
    " den der die do du due ein er es for from go had hand has he her him his i if ich im in"
    " is ist it its key left lock look loom main man me mit my need new nicht no not note now"
    " nur ob of off oil on one only open or our out over own part per put run see set she sie"
    " so still stop tag tape the them then they this to too two u um und up us use von vor war"
    " was we well wer when who will wir with work yes you your zu zum zur air arm top gap pin"
    " cam nut end low high hot cold wet dry red big tin old back down shut side slow fast soon"
    " seen must keep wait call days more next last same very"
)
ROLES = words(
    "apprentice apprentices azubi cleaner cleaners colleague colleagues contractor"
    " contractors electrician electricians elektriker engineer engineers fitter fitters"
    " foreman helfer helper helpers kollege kollegen leiharbeiter lehrling man mate mates"
    " mechanic mechanics mechaniker men monteur painter painters people person persons"
    " reiniger schlosser serviceman somebody someone supervisor technician technicians trainee"
    " trainees visitor visitors weaver weavers worker workers jemand electric service putzfrau"
    " welder welders plumber plumbers operator operators reinigungskraft meister vorarbeiter"
    " weber leader lead servicemen outsider guy guys lad lads"
)
# words in capitals at their beginning that are no names
NO_NAMES = words(
    "monday tuesday wednesday thursday friday saturday sunday january february march april"
    " may june july august september october november december mon tue wed thu fri sat sun"
    " montag dienstag mittwoch donnerstag freitag samstag sonntag early late night loctite"
    " english german box tag anhänger halle hauptschalter kasten karte maschine motor not-aus"
    " notaus order plan pumpe schalter schild schlüssel schrank sicherung strom teil tür wand"
    " wartung webmaschine reparatur switch main mains panel cabinet door gate breaker fuse"
    " section row loom shed schloss noise oil dust lint fluff smell smoke water leak something"
    " nothing rattle knock yarn thread weft warp tool part parts screw screws bolt light"
    " pieces broken loose found left fault heat faden geräusch öl staub flug wasser rauch"
    " schraube teile werkzeug lärm licht both work grease metal sparks fire draught lamp"
    " cutter sensor reed shuttle bobbin wire cable belt wrench vorhängeschloss spare new old"
    " red blue green yellow black white guard tagged key keys waiting"
)
# what isolates without being anybody, behind: isolated by
THINGS = words(
    "accident air arrangement barrier barriers blanks breaker breakers brush bushes cable"
    " cables chain cloth clutch contactor cover covers cuts damper dampers default design"
    " distance door dust earth fabric fate felt fence fences film filter foam fuse fuses gap"
    " gasket gaskets gate gates glue grease grommet guard guards hand handle hands interlock"
    " interlocks isolator isolators law lever light magnet mat mats mica mistake motor mount"
    " mounts nature nylon oil pad pads paint paper plastic plate plates plc plug plugs policy"
    " power procedure pump relay relays remote rings rubber rule rules sensor shutdown sleeve"
    " sleeves software spring springs stop switch switches tape tapes timer transformer trip"
    " trips valve valves varnish vacuum wall walls washer washers wood itself means way zaun"
    " sicherung sicherungen schalter gummi"
)


class Kind(Enum):
    """What a word of a text may be."""

    INITIALS = "initials"
    DOUBTFUL = "doubtful"  # initials only where a lock is theirs
    NAME = "name"  # a word that is written as names are
    ROLE = "role"  # somebody told by their work
    SMALL = "small"  # two or three small letters: initials only beside a lock's number
    NUMBER = "number"
    MARK = "mark"  # a comma, say
    WORD = "word"


PEOPLE = frozenset((Kind.INITIALS, Kind.DOUBTFUL, Kind.NAME, Kind.ROLE, Kind.SMALL))


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A word of a folded line: its place, itself folded and as written, and what it may be."""

    start: int
    end: int
    folded: str  # without 's at its end
    written: str  # as above
    kind: Kind
    owns: bool  # whether 's stood at its end


def tokens(folded: Folded, start: int, end: int, known: Set[str] = frozenset()) -> list[Token]:
    """The words of a stretch of a line; ``known`` are the register's, which are no names."""
    matches = islice(_TOKEN.finditer(folded.text, start, end), _MOST_TOKENS)
    found = [match.span() for match in matches]
    written = [folded.line[a:b] if folded.origin is None else folded.cut(a, b) for a, b in found]
    shouted = _is_shouted(written)
    made: list[Token] = []
    for (begin, stop), word in zip(found, written, strict=True):
        bare = _POSSESSIVE.sub("", word)
        name = _POSSESSIVE.sub("", folded.text[begin:stop])
        kind = _kind(bare, name.replace(".", ""), known, shouted=shouted)
        if made and made[-1].kind is Kind.NUMBER and name.strip(".") in ("am", "pm", "a.m", "p.m"):
            kind = Kind.WORD  # of the clock
        made.append(
            Token(
                start=begin,
                end=stop,
                folded=name,
                written=bare,
                kind=kind,
                owns=bare != word,
            )
        )
    return made


def _is_shouted(written: list[str]) -> bool:
    """Whether a text is all in capitals, so that these tell nothing."""
    letters = [word for word in written if word[:1].isalpha() and len(word) > 1]
    return bool(letters) and all(w.isupper() for w in letters) and any(len(w) > 2 for w in letters)


def _kind(word: str, name: str, known: Set[str], *, shouted: bool) -> Kind:
    if not name or not word or not word[0].isalnum():
        return Kind.MARK
    if any(map(str.isdigit, word)):
        return Kind.NUMBER
    if name in ROLES and not (word.isupper() and len(name) <= _MOST and not shouted):
        return Kind.ROLE
    if word.isupper() and 2 <= len(name) <= _MOST:
        return _of_capitals(name, known, shouted=shouted)
    if word[0].isupper() or (word[1:2] in "'’" and word[2:3].isupper()):
        plain = (
            len(name) < 2
            or word[1:2] == "-"
            or shouted
            or name in known
            or name in NO_NAMES | SMALL
            or name in THINGS
        )
        return Kind.WORD if plain else Kind.NAME
    if 2 <= len(name) <= 3 and name not in SMALL and name not in _TRADE and name not in known:
        return Kind.SMALL
    return Kind.WORD


def _of_capitals(name: str, known: Set[str], *, shouted: bool) -> Kind:
    if name in _TRADE:
        return Kind.WORD
    if name in known or (shouted and (name in SMALL or name in THINGS or len(name) > 3)):
        return Kind.WORD
    if name in _DOUBTFUL:
        return Kind.WORD if shouted else Kind.DOUBTFUL
    if len(name) > 2 and (name in SMALL or name in THINGS):
        return Kind.WORD
    return Kind.INITIALS
