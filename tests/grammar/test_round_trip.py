"""An entry written as a line reads again as the same entry."""

from __future__ import annotations

from random import Random

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from grammar import entries as e
from grammar.units import UNITS
from tests.grammar.lines import LINES, slips
from tests.grammar.mills import PARTS, READER, under_heading

names = st.from_regex(r"[A-Za-zÄÖÜé張][A-Za-z0-9'’/-]{0,6}", fullmatch=True)
free = st.text(
    alphabet=st.characters(exclude_characters=";\n\r", exclude_categories=("Cs", "Zs", "Cc")),
    min_size=1,
    max_size=12,
)
texts = st.lists(free, min_size=1, max_size=3).map(" ".join)


@st.composite
def parts_at(draw: st.DrawFn, *, numbered: bool = True) -> str:
    part = draw(st.sampled_from(PARTS))
    side = f"{draw(st.sampled_from(part.sides))} " if part.sides else ""
    number = f" {draw(st.integers(1, 9999))}" if numbered and draw(st.booleans()) else ""
    return f"{side}{part.name}{number}"


@st.composite
def readings(draw: st.DrawFn) -> str:
    part = draw(st.sampled_from([p for p in PARTS if p.quantities]))
    quantity = draw(st.sampled_from(part.quantities))
    side = f"{draw(st.sampled_from(part.sides))} " if part.sides else ""
    number = f" {draw(st.integers(1, 9999))}" if draw(st.booleans()) else ""
    kind = UNITS[quantity.unit].kind
    unit = draw(st.sampled_from([u.symbol for u in UNITS.values() if u.kind is kind]))
    value = draw(st.decimals(0, 5000, places=draw(st.sampled_from([0, 1, 2]))))
    gauge = draw(st.sampled_from(["", "gauge"]))
    verdict = draw(st.sampled_from(["enters", "stays out"])) if gauge else ""
    return f"{side}{part.name}{number} {quantity.name} {gauge} {value} {unit} {verdict}"


stamps = st.sampled_from(["22:40", "0510", "2026-11-24T22:40", "2026-11-24T22:40+01:00"])
clauses = st.one_of(
    st.sampled_from(["stopped", "thread-locked", "fault cleared", "fault cleared all"]),
    st.sampled_from(list(e.Reason)).map(lambda r: f"stopped for {r.value}"),
    texts.map("running {}".format),
    st.builds("isolated by {} {}".format, names, st.one_of(st.just(""), texts)),
    names.map("lock seen by {}".format),
    st.builds("lock removed by {} for {}".format, names, names),
    texts.map("fault {}".format),
    readings(),
    st.builds("{} {} {}".format, st.sampled_from([v.value for v in e.Verb]), parts_at(), texts),
    parts_at().map("moved {} from A09".format),
    st.decimals("0.1", 99, places=2).map("torque screws {} N.m".format),
    st.builds("checked {} {}".format, texts, st.sampled_from(["ok", "bad"])),
    names.map("batch {}".format),
    names.map("style {}".format),
    st.integers(0, 99999).map("counter {} h".format),
    st.builds(
        "open {} {}{}{}".format,
        st.sampled_from(["", "no 31", "no 2"]),
        texts,
        st.sampled_from(["", "; due early", "; due in 200 h", "; due 2026-12-01", "; due 06:00"]),
        st.sampled_from(["", "; for RB"]),
    ),
    st.builds("done no {} {}".format, st.integers(1, 999), st.one_of(st.just(""), texts)),
    texts.map("dropped 23:50 {}".format),
    texts.map("struck 22:55 {}".format),
    names.map("by {}".format),
)
notes = st.lists(texts, min_size=1, max_size=3).map(lambda pieces: f"note {'; '.join(pieces)}")


def comes_back(line: str) -> bool:
    """Whether the line is an entry; fails where its plain line is another."""
    reading = READER.read(under_heading(line))
    entries = [x for x in reading.entries if x.standing is e.Standing.WHOLE]
    if not entries:
        return False
    again = READER.read(under_heading(entries[0].as_line()))
    assert again.entries == (entries[0],), (line, entries[0].as_line())
    assert again.entries[0].as_line() == entries[0].as_line()
    return True


@given(
    stamp=stamps,
    first=st.lists(clauses, max_size=4),
    last=st.one_of(clauses, notes),
    writer=st.sampled_from(["", "; by RB"]),
)
@settings(max_examples=600, deadline=None)
def test_generated_entries(stamp: str, first: list[str], last: str, writer: str) -> None:
    assume(comes_back(f"{stamp} A07 {'; '.join([*first, last])}{writer}"))


def test_lines_of_every_kind() -> None:
    assert all(comes_back(line) for line in LINES if line[:1].isdigit())


def test_lines_with_slips() -> None:
    random = Random(11)
    read = sum(comes_back(slips(random.choice(LINES), random)) for _ in range(6_000))
    assert read > 600
