"""What editors colour in a log: judged by the grammar, by an engine of our own, and by vim itself."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from lark import Lark, Token

from board.highlighting import run as write_for_mill
from board.record.register import read_register
from board.shell import Shell
from grammar.folding import fold
from grammar.highlighting import OWN_WORDS, Meaning, colours, files
from grammar.highlighting_textmate import SCOPES
from grammar.highlighting_vim import LINKS
from grammar.phrases import CLAUSE_HEADS, KEY_PHRASES, PHRASES, REASONS, grammar_text
from tests.conftest import EXAMPLE, ROOT
from tests.grammar.lines import LINES
from tests.grammar.mills import mill

VIM = shutil.which("vim") or shutil.which("vim.tiny")
INVENTED = mill()
KEYS = {SCOPES[m] for m in (Meaning.DAY, Meaning.KEY, Meaning.ISOLATION, Meaning.WORD)}
OWN = json.loads(files(OWN_WORDS)["loomslate.tmLanguage.json"])
MILLS = json.loads(files(INVENTED)["loomslate.tmLanguage.json"])

Piece = tuple[str, str]  # a stretch of the line and its innermost scope


# -- a small engine for the TextMate grammars of this project --------------------------------------


def scoped(grammar: dict[str, Any], line: str) -> list[str]:
    """The innermost scope of each character."""
    scopes = [""] * (len(line) + 1)
    _inside(grammar, grammar["patterns"], line, 0, None, "", scopes)
    return scopes[:-1]


def _inside(
    grammar: dict[str, Any], patterns: list[dict[str, Any]], line: str, at: int,
    end: re.Pattern[str] | None, content: str, scopes: list[str],
) -> int:  # fmt: skip
    rules = list(_rules(grammar, patterns))
    while at <= len(line):
        ends = end.search(line, at) if end else None
        found = None
        for rule in rules:
            match = re.compile(rule.get("match") or rule["begin"]).search(line, at)
            if match and (found is None or match.start() < found[0].start()):
                found = match, rule
        stop = ends.start() if ends else len(line) + 1
        if found is None or found[0].start() >= min(stop, len(line) + (end is None)):
            upto = ends.start() if ends else len(line)
            _paint(scopes, at, upto, content)
            return ends.end() if ends else len(line) + 1
        match, rule = found
        _paint(scopes, at, match.start(), content)
        _paint(scopes, match.start(), match.end(), rule.get("name", content))
        for number, capture in rule.get("captures", rule.get("beginCaptures", {})).items():
            if match[int(number)] is not None:
                _paint(scopes, *match.span(int(number)), capture["name"])
        if "begin" in rule:
            inner = rule.get("patterns", [])
            name = rule.get("contentName", "")
            at = _inside(grammar, inner, line, match.end(), re.compile(rule["end"]), name, scopes)
        else:
            assert match.end() > match.start(), rule
            at = match.end()
    return at


def _rules(grammar: dict[str, Any], patterns: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for rule in patterns:
        if "include" in rule:
            own = grammar["repository"][rule["include"].removeprefix("#")]
            yield from _rules(grammar, own["patterns"])
        else:
            yield rule


def _paint(scopes: list[str], start: int, end: int, name: str) -> None:
    for place in range(start, end):
        scopes[place] = name


def pieces(grammar: dict[str, Any], line: str) -> list[Piece]:
    """The coloured stretches of a line."""
    found: list[list[str]] = []
    for letter, scope in zip(line, scoped(grammar, line), strict=True):
        if found and found[-1][1] == scope:
            found[-1][0] += letter
        else:
            found.append([letter, scope])
    return [(text.strip(), scope) for text, scope in found if scope]


# -- the files -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["loomslate.vim", "loomslate.tmLanguage.json"])
def test_the_files_on_the_disk_are_what_the_module_makes(name: str) -> None:
    assert (ROOT / "grammar" / name).read_text(encoding="utf-8") == files(OWN_WORDS)[name]


@pytest.mark.parametrize("grammar", [OWN, MILLS], ids=["own", "mill"])
def test_every_expression_compiles(grammar: dict[str, Any]) -> None:
    def expressions(value: object) -> Iterator[str]:
        if isinstance(value, dict):
            yield from (value[k] for k in ("match", "begin", "end") if k in value)
            for inner in value.values():
                yield from expressions(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from expressions(inner)

    found = list(expressions(grammar))
    assert len(found) > 30
    for expression in found:
        re.compile(expression)


def test_every_clause_of_the_grammar_has_its_form() -> None:
    heads = {head for form in colours(OWN_WORDS).forms for head in form.heads} | {"note"}
    assert set(CLAUSE_HEADS) <= heads


# -- judged by the grammar -------------------------------------------------------------------------

LARK = Lark(
    grammar_text(INVENTED), parser="lalr", start=["heading", "entry"], maybe_placeholders=False
)


def key_words(line: str) -> list[tuple[int, int, str]]:
    """The key words of a line where the grammar finds them: from, to, and of which terminal."""
    folded = fold(line)
    start = "heading" if folded.text.startswith("day") else "entry"
    tree = LARK.parse(folded.text, start=start)
    tokens = [t for t in tree.scan_values(lambda t: isinstance(t, Token)) if isinstance(t, Token)]
    found = []
    for token in tokens:
        if token.type in PHRASES or token.type in ("VERB", "REASON"):
            text = str(token).rstrip(" \t.,:;")
            assert token.start_pos is not None
            span = folded.span(token.start_pos, token.start_pos + len(text))
            found.append((span.start, span.end, token.type))
    return found


USED = [line for line in dict.fromkeys(LINES) if line and not line.startswith("#")]


@pytest.mark.parametrize("line", USED)
def test_key_words_are_coloured_where_the_grammar_finds_them(line: str) -> None:
    found = key_words(line)
    scopes = scoped(MILLS, line)
    for start, end, kind in found:
        assert set(scopes[start:end]) - {""} <= KEYS, (kind, line[start:end])
        assert scopes[start] in KEYS, (kind, line[start:end])
    coloured = {i for i, scope in enumerate(scopes) if scope in KEYS - {SCOPES[Meaning.WORD]}}
    told = {i for start, end, _ in found for i in range(start, end)}
    assert coloured <= told, [line[i] for i in sorted(coloured - told)]


def test_the_lines_use_every_terminal_of_the_phrases() -> None:
    used = {kind for line in USED for _, _, kind in key_words(line)}
    assert used >= set(PHRASES) - {"SEALED"}


# A line for each key phrase that is no head of a clause alone, and the phrase in it.
IN_LINES = {
    "day": "day 2026-11-24 night by KM",
    "for": "22:40 A07 lock removed by RB for KM",
    "cleared": "22:40 A07 fault cleared",
    "gauge": "22:40 A07 right guide 3 gap gauge 0.30 mm enters",
    "enters": "22:40 A07 right guide 3 gap gauge 0.30 mm enters",
    "stays out": "22:40 A07 guide 3 gauge 0.30 mm stays out.",
    "from": "22:40 A07 moved left head from A09",
    "ok": "22:40 A07 checked joint ok",
    "bad": "22:40 A07 checked joint bad; running",
    "new": "22:40 A07 counter 0 h new",
    "due": "22:40 A07 open look; due early",
    "in": "22:40 A07 open look; due in 200 h",
    "before start": "22:40 A07 open look; due before start",
    "to": "05:56 shed handed over KM to RB",
    "sealed": "06:00 shed taken over by RB; sealed 214 9f3ac1",
    "no": "22:40 A07 done no 31 smooth",
    "all": "22:40 A07 fault cleared all",
    "by": "22:40 A07 running; by RB",
}
WHOLE = {"lock seen": "lock seen by RB", "lock removed": "lock removed by RB",
         "isolated": "isolated by KM", "taken over": "taken over by RB"}  # fmt: skip


@pytest.mark.parametrize("phrase", sorted(KEY_PHRASES))
def test_every_key_phrase_is_coloured_in_a_line_that_uses_it(phrase: str) -> None:
    if phrase == "shed":
        assert (phrase, SCOPES[Meaning.PLACE]) in pieces(OWN, "05:56 shed handed over KM to RB")
        return
    if phrase in ("worn", "broken", "early"):
        line = f"22:40 A07 replaced left tape {phrase}"
    elif phrase in REASONS and phrase not in ("fault", "style"):
        line = f"22:40 A07 stopped for {phrase}"
    else:
        line = IN_LINES.get(phrase, f"22:40 A07 {WHOLE.get(phrase, phrase)} x")
    start = line.index(f" {phrase}") + 1 if not line.startswith(phrase) else 0
    assert set(scoped(OWN, line)[start : start + len(phrase)]) <= KEYS, line


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("# day 2026-11-24: 2.35 mm, note", [("# day 2026-11-24: 2.35 mm, note", "comment")]),
        (" # no comment", []),
        ("day 2026-11-24 night by KM", [
            ("day", "day"), ("2026-11-24", "date"), ("night", "shift"), ("by", "word"),
        ]),
        ("22:40 A07 left tape thickness 2.35 mm; running", [
            ("22:40", "time"), ("A07", "place"), ("2.35 mm", "amount"), ("running", "key"),
        ]),
        ("2026-11-24T22:40+01:00 a7 isolated by KM lock 14", [
            ("2026-11-24T22:40+01:00", "time"), ("a7", "place"), ("isolated by", "isolation"),
        ]),
        ("0905 A07 fault running hot; note stopped for 2 mm; by the door; by KM", [
            ("0905", "time"), ("A07", "place"), ("fault", "key"), ("note", "key"),
            ("stopped for 2 mm; by the door", "note"), ("by", "key"),
        ]),
        ("22:40 A07 NOTE all of it; stays", [
            ("22:40", "time"), ("A07", "place"), ("NOTE", "key"), ("all of it; stays", "note"),
        ]),
        ("22:40 A07 notes are none; 12 h 3 mmx 1.5N.m", [
            ("22:40", "time"), ("A07", "place"), ("12 h", "amount"), ("1.5N.m", "amount"),
        ]),
        ("22:40 A07 done no 31 at 5 o'clock; dropped 2026-11-23T22:55 sold", [
            ("22:40", "time"), ("A07", "place"), ("done", "key"), ("no", "word"), ("31", "number"),
            ("dropped", "key"), ("2026-11-23T22:55", "time"),
        ]),
        ("what is this", []),
    ],
)  # fmt: skip
def test_comments_headings_times_amounts_and_notes_are_told_apart(
    line: str, told: list[Piece]
) -> None:
    assert pieces(OWN, line) == [(text, SCOPES[Meaning(what)]) for text, what in told]


def test_the_mills_own_words_are_coloured_too() -> None:
    line = "22:40 A07 STÖRUNG BEHOBEN; linkes Band 2,35 mm; links band verschlissen; getauscht links band verschlissen"
    found = pieces(MILLS, line)
    assert ("STÖRUNG BEHOBEN", SCOPES[Meaning.KEY]) in found
    assert ("getauscht", SCOPES[Meaning.KEY]) in found
    assert ("verschlissen", SCOPES[Meaning.WORD]) in found
    assert ("Band", SCOPES[Meaning.NAME]) in found
    assert not [text for text, _ in pieces(OWN, line) if text == "Band"]


# -- vim -------------------------------------------------------------------------------------------


def in_vim(script: str, lines: list[str], folder: Path) -> list[list[str]]:
    """For each line, the colour of each of its characters, as vim sees it; "" where none."""
    (folder / "own.vim").write_text(script, encoding="utf-8")
    (folder / "lines.log").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "ask.vim").write_text(
        "set encoding=utf-8 nocompatible nomodeline\n"
        "set synmaxcol=0\n"
        "source own.vim\n"
        "let rows = []\n"
        "for number in range(1, line('$'))\n"
        "  let row = []\n"
        "  let text = getline(number)\n"
        "  let column = 0\n"
        "  while column < strlen(text)\n"
        "    let id = synIDtrans(synID(number, column + 1, 1))\n"
        "    call add(row, synIDattr(id, 'name'))\n"
        "    let column += strlen(matchstr(text, '.', column))\n"
        "  endwhile\n"
        "  call add(rows, join(row, ' '))\n"
        "endfor\n"
        "call writefile(rows, 'colours.txt')\n"
        "qall!\n",
        encoding="utf-8",
    )
    assert VIM is not None
    done = subprocess.run(
        [VIM, "-es", "-u", "NONE", "-i", "NONE", "-n", "lines.log", "-S", "ask.vim"],
        cwd=folder, env={**os.environ, "LC_ALL": "C.UTF-8", "HOME": str(folder)},
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.stdout + done.stderr == ""
    asked = (folder / "colours.txt").read_text(encoding="utf-8").split("\n")[:-1]
    # a group of ours that is linked to none of vim's own has no colour
    rows = [re.sub(r"\bloomslate\w+", "", row) for row in asked]
    return [row.split(" ") if text else [] for row, text in zip(rows, lines, strict=True)]


def _same(scopes: list[str], line: str) -> list[str]:
    """The colours of vim that stand for the scopes; blanks are left out, as no eye sees them."""
    linked = {SCOPES[meaning]: group for meaning, group in LINKS.items()} | {"": ""}
    return [linked[s] if not c.isspace() else " " for s, c in zip(scopes, line, strict=True)]


def _has_syntax() -> bool:
    if VIM is None:
        return False
    told = subprocess.run([VIM, "--version"], capture_output=True, text=True, check=False).stdout
    return "+syntax" in told


@pytest.mark.skipif(not _has_syntax(), reason="no vim that colours here")
@pytest.mark.parametrize("words", [OWN_WORDS, INVENTED], ids=["own", "mill"])
def test_vim_colours_every_line_as_the_other_editors_do(words: Any, tmp_path: Path) -> None:
    made = files(words)
    grammar = json.loads(made["loomslate.tmLanguage.json"])
    lines = [*USED, "# a comment; note x", "22:40 A07 notes; 3 mmx; 0,5 N·m (2 h)", "nothing",
             "0905 A07 fault running; note a; by the door; by KM",
             "22:40 A07 störung behoben; linkes Band 2,35 mm; Führung 3"]  # fmt: skip
    seen = in_vim(made["loomslate.vim"], lines, tmp_path)
    wrong: list[tuple[str, list[tuple[str, str, str]]]] = []
    for line, row in zip(lines, seen, strict=True):
        expected = _same(scoped(grammar, line), line)
        got = [c if not letter.isspace() else " " for c, letter in zip(row, line, strict=True)]
        if got != expected:
            both = zip(line, got, expected, strict=True)
            wrong.append((line, [(c, g, e) for c, g, e in both if g != e]))
    assert not wrong, wrong[:3]


@pytest.mark.skipif(not _has_syntax(), reason="no vim that colours here")
def test_vim_reads_the_file_of_the_disk(tmp_path: Path) -> None:
    script = (ROOT / "grammar" / "loomslate.vim").read_text(encoding="utf-8")
    line = "22:40 A07 isolated by KM lock 14; note x 2 mm; by RB"
    (row,) = in_vim(script, [line], tmp_path)
    assert row[0] == LINKS[Meaning.TIME] == "Constant"
    assert row[line.index("A07")] == "Identifier"
    assert row[line.index("isolated")] == "WarningMsg"
    assert row[line.index("2 mm")] == "String"
    assert row[line.index("by RB")] == "Statement"
    assert row[line.index("RB")] == ""


# -- for one mill ----------------------------------------------------------------------------------


def test_files_for_a_mill_are_written_where_they_are_asked_for(tmp_path: Path) -> None:
    out, err = io.StringIO(), io.StringIO()
    shell = Shell(stdin=None, stdout=out, stderr=err, environ={}, clock=lambda: datetime.now(UTC))
    assert write_for_mill([str(EXAMPLE), str(tmp_path)], shell) == 0
    mill = read_register((EXAMPLE / "shed.toml").read_bytes())
    for name, text in files(mill.vocabulary).items():
        assert (tmp_path / name).read_text(encoding="utf-8") == text
        assert "greifer" in text
    assert write_for_mill([str(tmp_path / "none")], shell) == 2
    assert write_for_mill([], shell) == 2
    assert err.getvalue().count("\n") == 2
