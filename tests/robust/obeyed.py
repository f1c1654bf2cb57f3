"""Characters that a terminal, a browser or a reader might obey, or that nobody would see.

What a terminal may obey is taken from ECMA-48 (1991), section 8.3 and 5.2 to 5.4 (C0 and C1 sets),
and from Unicode Standard Annex 9, section 2 (explicit directional formatting characters).
"""

from __future__ import annotations

import unicodedata

# UAX 9, 2.1 to 2.6: LRE RLE PDF LRO RLO, LRI RLI FSI PDI, LRM RLM ALM.
DIRECTIONS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")
# Format, private, unassigned, surrogate, line and paragraph separator; Cc is C0, DEL and C1.
UNSEEN = ("Cc", "Cf", "Co", "Cn", "Cs", "Zl", "Zp")


def unseen(text: str, allowed: str = "\n") -> set[str]:
    """The characters of a text that a terminal might obey, or that nobody would see."""
    return {
        c for c in set(text) - set(allowed) if unicodedata.category(c) in UNSEEN or c in DIRECTIONS
    }
