"""Text that means harm or merely comes out of a broken machine, and a shed whose logs are full of it.

What a terminal, a browser, a spreadsheet, a shell or a format string could obey, numbers beyond
all measure, and lines beyond all length. Between them stand good lines, which must come through.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from tests.example.shed import REGISTER

# Each is put into every place of a line where free text or a word may stand.
PAYLOADS: dict[str, str] = {
    # ECMA-48: escape sequences, the 8-bit C1 forms, and strings that swallow what follows them
    "escape clears": "\x1b[2J\x1b[H",
    "escape colours": "\x1b[31mred\x1b[0m",
    "escape unfinished": "\x1b[",
    "osc title": "\x1b]0;owned\x07",
    "osc link": "\x1b]8;;http://example.invalid\x1b\\here\x1b]8;;\x1b\\",
    "dcs swallows": "\x1bPq",
    "c1 csi": "\x9b31mred",
    "c1 osc": "\x9d0;owned\x9c",
    "controls": "".join(map(chr, (*range(1, 9), *range(11, 32), 127))),
    "nul": "a\0b",
    "carriage return": "honest\rforged",
    "backspaces": "locked\b\b\b\b\b\bfree",
    "vertical": "a\x0bb\x0cc\x85d\u2028e\u2029f",
    # UAX 9: marks that turn the order of letters round
    "bidi override": "\u202eevol\u202c",
    "bidi isolate": "\u2067abc\u2069",
    "bidi marks": "\u200e\u200f\u061c",
    # what is there and cannot be seen, what is seen and takes no room or too much
    "joiners": "\U0001f469\u200d\U0001f52c\ufe0f",
    "zero width": "a\u200bb\u2060c\ufeffd\u00ade",
    "tags": "\U000e0041\U000e0042\U000e007f",
    "combining": "z" + "\u0300\u0489" * 60,
    "wide": "織機" * 20,
    "flags": "\U0001f1ec\U0001f1e7" * 5,
    "no character": "\ufffe\uffff\U0010ffff\ue000",
    "ligature": "\ufdfa" * 20,  # one letter that folds to eighteen
    # markup of terminals, browsers, documents
    "rich close": "[/]",
    "rich": "[bold red]shout[/bold red]",
    "rich link": "[link=http://example.invalid]here[/link]",
    "rich open": "[blink",
    "emoji code": ":smile: :warning:",
    "script": "<script>alert(1)</script>",
    "image": "<img src=x onerror=alert(1)>",
    "attribute": "\" onmouseover='alert(1)' x=\"",
    "tags closed": "</td></table></body></html>",
    "comment": "--><!-- ]]> <![CDATA[",
    "entities": "&lt;b&gt; &#27; &amp;",
    "style tag": "</style><style>*{display:none}</style>",
    # spreadsheets, shells, queries, format strings, paths
    "formula": '=HYPERLINK("http://example.invalid","here")',
    "formula at": "@SUM(1+1)*cmd|'/c calc'!A0",
    "formula plus": "+1+1",
    "formula minus": "-2+3",
    "formula tab": "\t=1+1",
    "shell": "$(touch owned) `touch owned` && touch owned",
    "query": "'); DROP TABLE entries;--",
    "percent": "%s%s%n%(x)s",
    "braces": "{0} {x.__class__} {{7*7}} ${7*7}",
    "path": "../../../etc/passwd",
    "backslashes": "\\\\host\\share\\n\\x1b[31m",
    "quotes": '"\'`\u201e\u00ab\\"',
    "brackets": "(" * 400 + ")" * 399,
    "square": "[" * 700,
    # numbers
    "nan": "nan NaN inf -Infinity",
    "huge": "1e308 1e999",
    "digits": "9" * 3000,
    "other digits": "٣٫٥ ३.५ 二 Ⅷ ½ ²",
    "minus": "\u22123,5 mm",
}

LONG: dict[str, bytes] = {
    "three megabytes": b"07:00 A01 note " + b"x" * 3_000_000,
    "three megabytes of one isolation": b"07:00 A01 isolated by KM " + b"y" * 3_000_000,
    "twenty thousand clauses": b"07:00 A02 " + b"running;" * 20_000,
    "five thousand digits": b"07:00 A03 left tape thickness " + b"9" * 5_000 + b" mm",
    "five thousand brackets": b"07:00 A03 note " + b"(" * 5_000,
    "as many clauses as fit": b"07:00 A04 " + b"; ".join([b"stopped for fault"] * 200),
    "as many work clauses as fit": b"07:01 A04 " + b"; ".join([b"greased brake"] * 250),
    "as many readings as fit": b"07:02 A04 " + b";".join([b"left tape thickness 2.9 mm"] * 140),
    "semicolons": b"07:00 A05 " + b";" * 4_000,
    "nothing but numbers": b"7" * 4_000,
}

BYTES: dict[str, bytes] = {
    "not UTF-8": b"07:10 A06 note \xff\xfe\x80\x81 caf\xe9",
    "overlong": b"07:11 A06 note \xc0\xaf \xe0\x80\xaf",
    "surrogate": b"07:12 A06 note \xed\xa0\x80\xed\xb0\x80",
    "cut letter": b"07:13 A06 note \xf0\x9f\x91",
    "UTF-16": "07:14 A06 note x".encode("utf-16"),
    "random": bytes(range(1, 10)) + bytes(range(11, 256)),
}

# Where {} stands for the payload. The looms carry no good line of their own.
PLACES = (
    "{}",
    "07:{m:02} B01 note {}",
    "07:{m:02} B02 fault {}",
    "07:{m:02} B03 open {}",
    "07:{m:02} B04 stopped for {}",
    "07:{m:02} B05 style {}",
    "07:{m:02} B06 replaced left tape {}; batch {}",
    "07:{m:02} B07 stopped; by {}",
    "07:{m:02} B08 isolated by Z{m} {}",
    "07:{m:02} B09 left tape thickness {} mm",
    "07:{m:02} B10 checked {} bad",
    "07:{m:02} B11 counter {} h",
    "07:{m:02} {} running",
    "{} B12 running",
    "day 2026-11-24 {}",
)

ODD_TIMES = (
    "0001-01-01T00:00 B13 note first day",
    "9999-12-31T23:59 B13 note last day",
    "0001-01-01T00:00+14:00 B14 isolated by OLD",
    "9999-12-31T23:59-14:00 B14 isolated by NEW",
    "1752-09-05T00:00 B15 fault old",
    "2026-02-30T00:00 B15 fault never",
    "2026-11-24T25:61 B15 fault never",
    "9999-12-31T23:00 B15 open no 7 far; due in 99999999 h",
    "07:20 B16 open no 999999999999999999999 big; due 9999-12-31",
    "07:20 B16 open no 8 soon; due in 999999999999999999999999 picks",
    "07:21 B17 torque screws 999999999999999999999999999999 N.m",
    "07:22 B17 counter 99999999999999999999999999 picks",
    "07:23 B17 left tape thickness 0.00000000000000000000000000001 mm",
    "07:24 B17 left tape thickness -99999999999999999999 mm",
    "07:25 B17 right tape thickness 2,9999999999999999999999 mm",
    "07:26 B18 guide 99999999999999999999 gap 0.2 mm",
    "07:27 B18 guide 0 gap 0.2 mm",
    "07:28 B18 moved left head from B18",
    "07:29 B18 struck 07:29 itself",
    "07:30 B19 done no 99999999999999999999 it",
    "9999-12-31T23:59 shed handed over ZZ to YY",
    "9999-12-31T23:59 shed taken over by YY; sealed 99999999999999999999 ffffff",
    "shed note no time",
)

HEADING = b"day 2026-11-24 early by KM"
GOOD_LOOMS = tuple(f"A{number:02}" for number in range(7, 25))


def good_lines() -> list[str]:
    """Lines that must come through, whatever stands beside them: an isolation and a note each."""
    lines = []
    for minute, loom in enumerate(GOOD_LOOMS):
        lines.append(f"06:{minute:02} {loom} isolated by G{minute} lock {minute}")
        lines.append(f"06:{minute:02} {loom} fault canary {loom.lower()} squeaks")
    return lines


def hostile_lines(each: int = len(PLACES)) -> Iterator[bytes]:
    """Every payload in so many places of a line, then bytes that are no text, and odd times."""
    for number, payload in enumerate(PAYLOADS.values()):
        for k in range(each):
            place = PLACES[(number + k) % len(PLACES)]
            line = place.replace("{m:02}", f"{number % 60:02}").replace("{m}", str(number))
            yield line.replace("{}", payload).encode("utf-8", "surrogatepass")
        yield HEADING  # one of the places is a heading, and most likely a refused one
    yield from BYTES.values()
    yield from (line.encode() for line in ODD_TIMES)


def hostile_log(each: int = len(PLACES), longest: int = 0) -> bytes:
    """A log in which every hostile line has a good one before and after it.

    Lines over ``longest`` [bytes] are left out; 0: none is.
    """
    good = [line.encode() for line in good_lines()]
    lines = [HEADING]
    long = [line for line in LONG.values() if not longest or len(line) <= longest]
    for number, line in enumerate([*hostile_lines(each), *long]):
        lines.append(line)
        if good and number % 8 == 0:
            lines += [HEADING, good.pop()]
    return b"\n".join([*lines, HEADING, *good, b""])


HOSTILE_REGISTER = (
    REGISTER.replace('name = "Quillbank"', r'name = "Quill[bold]<b>bank</b>[/]=1+1"')
    .replace(
        'text = "The tape end springs back',
        r'text = "</td><script>alert(2)</script>\u001b]0;x\u0007[/] The tape end springs back',
    )
    .replace(
        "[calendar]", '[symptom."<b>[/]squeaks</b>:smile:"]\nwords = ["squeaks"]\n\n[calendar]'
    )
)


def hostile_shed(folder: Path, each: int = len(PLACES), longest: int = 0) -> Path:
    """A log folder in which nearly everything is hostile, its register included."""
    (folder / "2026").mkdir(parents=True)
    (folder / "shed.toml").write_text(HOSTILE_REGISTER, encoding="utf-8")
    (folder / "2026" / "hostile.log").write_bytes(hostile_log(each, longest))
    (folder / "2026" / "<b>[red] =1+1;$(x).log").write_bytes(
        b"day 2026-11-24 early by KM\n06:40 A01 note inside an odd name\n06:41 A01 nonsense <b>\n"
    )
    return folder
