"""The scanner of lines against ``tomllib`` and against documents whose values are their lines.

In the documents below ``@`` stands for the number of its own line, so that every value that
``tomllib`` reads is what the scanner has to say of its key. What ``tomllib`` finds is the reference
for which keys there are.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from board.record.toml_lines import KeyPath, key_lines


def numbered(document: str) -> str:
    """The document with each ``@`` replaced by the number of its line."""
    lines = document.split("\n")
    return "\n".join(line.replace("@", str(n)) for n, line in enumerate(lines, start=1))


def paths(value: object, path: KeyPath = ()) -> Iterator[tuple[KeyPath, object]]:
    """Every table, key and list element below a value."""
    inside: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        inside = list(value.items())
    elif isinstance(value, list):
        inside = list(enumerate(value))
    for key, one in inside:
        yield (*path, key), one
        yield from paths(one, (*path, key))


def assert_lines_are_right(text: str) -> None:
    found = key_lines(text)
    expected = dict(paths(tomllib.loads(text)))
    assert set(found.lines) == set(expected)
    assert found.twice == ()
    numbers = 0
    for path, value in expected.items():
        if isinstance(value, int) and not isinstance(value, bool):
            assert found.lines[path] == value, path
            numbers += 1
    assert numbers


DOCUMENTS = {
    "plain": "a = @\n\n# b = 7\nb = @ # c = 8\nc=@",
    "tables": "[one]\na = @\n[one.two]\na = @\n\n[ three . four ]\na=@\n",
    "dotted keys": "a.b.c = @\na.b.d = @\n a . e = @\n[t]\nx.y = @\nx.z = @\n",
    "quoted keys": '"a b" = @\n\'c.d\' = @\n"e\\"f" = @\n["x # y"."z]"]\n"" = @\n"\\u00e4" = @\n',
    "inline tables": 'a = { b = @, c = { d = @, "e,}" = @ } }\nf = @\ng = {}\nh = @',
    "lists": 'a = [@, @]\nb = [\n  @, # ]\n  @,\n\n  [ @,\n@ ]\n]\nc = @\nd = []\ne = @\nf = ["]", "#",\n @]',
    "tables in lists": "a = [\n { b = @ },\n { b = @, c = [@,\n @] }\n]\nd = @",
    "strings of many lines": 'a = """\nb = 1\n[c]\n"x" \\""" # """\nd = @\ne = \'\'\'\n[f]\ng\'\' = \'\'\'\nh = @',
    "quotes at the end": 'a = """x""""\nb = @\nc = """x"""""\nd = @\ne = \'\'\'x\'\'\'\'\nf = @',
    "backslash at the end": 'a = """\\\n   one \\\n   two"""\nb = @\nc = "\\\\"\nd = @\ne = \'\\\'\nf = @',
    "lists of tables": "[[a]]\nb = @\n[[a]]\nb = @\n[a.c]\nd = @\n[[a.e]]\nf = @\n[[a.e]]\nf = @\n[[a]]\nb=@",
    "dates with a space": "a = 2026-11-24 22:40:00\nb = @\nc = 2026-11-24T22:40:00+01:00\nd = [2026-11-24, @]\n",
    "header after what is in it": "[a.b]\nc = @\n[a]\nd = @\n",
}


@pytest.mark.parametrize("document", DOCUMENTS.values(), ids=DOCUMENTS)
def test_every_key_has_the_line_that_its_value_tells(document: str) -> None:
    assert_lines_are_right(numbered(document))


@pytest.mark.parametrize("document", DOCUMENTS.values(), ids=DOCUMENTS)
def test_crlf_changes_no_line(document: str) -> None:
    assert_lines_are_right(numbered(document).replace("\n", "\r\n"))


def test_a_table_has_the_line_of_its_header_wherever_it_stands() -> None:
    lines = key_lines("[a.b]\nc = 1\n\n[a]\nd = 2\n[[e]]\n[[e]]\n")
    assert lines.line(("a",)) == 4
    assert lines.line(("a", "b")) == 1
    assert lines.line(("e", 1)) == 7


def test_a_key_that_is_not_there_has_the_line_of_the_table_around_it() -> None:
    lines = key_lines("x = 1\n[a.b]\nc = [\n 1,\n 2]\n")
    assert lines.line(("a", "b", "nothing")) == 2
    assert lines.line(("a", "b", "c", 1, "deeper")) == 5
    assert lines.line(("nothing", "at all")) == 0


@pytest.mark.parametrize(
    ("text", "path", "first", "second"),
    [
        ("a = 1\nb = 2\na = 3", ("a",), 1, 3),
        ("[a]\nb = 1\n\n[a]\nc = 1", ("a",), 1, 4),
        ("[a]\nb = '''\n'''\nb = 1", ("a", "b"), 2, 4),
        ("a = { b = 1, b = 2 }", ("a", "b"), 1, 1),
    ],
)
def test_what_stands_twice_is_told_with_both_lines(
    text: str, path: KeyPath, first: int, second: int
) -> None:
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    (twice,) = key_lines(text).twice
    assert (twice.path, twice.first, twice.second) == (path, first, second)


# -- documents made at random --------------------------------------------------------------

SLOW_MACHINE = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
BARE = st.sampled_from(["a", "B7", "c-d", "_", "4"])
FILL = st.sampled_from(["", "# x = 1", "  # [y]", "\t"])
TEXT = st.sampled_from(
    [
        '"#"',
        "'['",
        '"\\""',
        '"""\n"\n] = 1\n"""',
        "'''\\'''",
        "'''\n[[z]]\n'''",
        '"""a\\\n  b"""',
        "true",
        "1.5e3",
        "2026-11-24 08:00:00",
        "[ ]",
        "{ }",
        "[[], [[ ]]]",
    ]
)


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    kinds = ["number", "text"] + (["list", "inline"] if depth else [])
    kind = draw(st.sampled_from(kinds))
    if kind == "number":
        return "@"
    if kind == "text":
        return draw(TEXT)
    inner = draw(st.lists(values(depth=depth - 1), min_size=1, max_size=3))
    if kind == "list":
        gap = draw(st.sampled_from([" ", "\n", "\n # , ]\n", ""]))
        return f"[{gap}" + f",{gap}".join(inner) + gap + draw(st.sampled_from(["", ","])) + "]"
    pairs = [f"k{i} = {v}" for i, v in enumerate(inner)]
    return "{ " + ", ".join(pairs) + " }"


@st.composite
def documents(draw: st.DrawFn) -> str:
    """Tables and keys, each of a name of its own, with anything for a value."""
    lines = ["first = @"]
    for i in range(draw(st.integers(0, 8))):
        lines.append(draw(FILL))
        name = f"{draw(BARE)}{i}"
        key = draw(st.sampled_from([name, f'"{name} ."', f"'{name}#'", f"{name}.x . y"]))
        if draw(st.booleans()):
            lines.append(draw(st.sampled_from([f"[{key}]", f" [ {key} ] # t", f"[[{key}]]"])))
            lines.append("own = @")
        else:
            lines.append(f"{key} = {draw(values())}")
    return "\n".join(lines)


@SLOW_MACHINE
@given(documents())
def test_lines_of_any_document(document: str) -> None:
    assert_lines_are_right(numbered(document))


@SLOW_MACHINE
@given(documents(), st.data())
def test_no_text_makes_the_scanner_raise(document: str, data: st.DataObject) -> None:
    cut = data.draw(st.integers(0, len(document)))
    junk = data.draw(st.text("[]{}\"'=.,#\n\\ab\x00", max_size=5))
    found = key_lines(document[:cut] + junk + document[cut:])
    count = document.count("\n") + junk.count("\n") + 1
    assert all(1 <= line <= count for line in found.lines.values())


def test_deep_nesting_ends_the_scan_and_nothing_else() -> None:
    assert key_lines("a = 1\nb = " + "[" * 100_000).line(("a",)) == 1
