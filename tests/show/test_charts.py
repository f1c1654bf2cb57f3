"""Charts as text: exact size, every mark, what is no number left out, and no picture without plotext.

That a line was drawn where its numbers say is checked by counting cells back to values, not by
the library's own word.
"""

from __future__ import annotations

import math
import re
from datetime import timedelta
from threading import Thread

import pytest

from board.reckon.refusal import Refusal
from board.reckon.summary import summarise
from board.show.chart_shapes import Cone, Mark, Point, Steps, Trend, step_frame, trend_frame
from board.show.charts import step_chart, trend_chart
from board.show.loom_screen import loom_lines
from board.show.text import to_ascii
from board.show.trends import trend_lines
from board.state.history import Bound
from tests.conftest import EXAMPLE, Run
from tests.state.shed import at, read

LIMIT = 2.45
WORN = Trend(
    points=tuple(
        Point(x=x, y=y, reach=0.03) for x, y in [(0, 3.2), (100, 3.0), (200, 2.85), (290, 2.72)]
    ),
    limits=(LIMIT,),
)


def drawn(trend: Trend, width: int = 80, height: int = 10) -> list[str]:
    chart = trend_chart(trend, width=width, height=height)
    assert not isinstance(chart, Refusal)
    return chart


@pytest.mark.parametrize(("width", "height"), [(30, 6), (80, 10), (120, 40), (300, 11)])
def test_a_chart_has_exactly_its_size(width: int, height: int) -> None:
    for chart in (
        drawn(WORN, width, height),
        step_chart([STEPS], width=width, height=height),
    ):
        assert not isinstance(chart, Refusal)
        assert [len(row) for row in chart] == [width] * height


def test_marks_of_readings_gauges_replacement_and_forecast() -> None:
    trend = Trend(
        points=(
            *WORN.points,
            Point(x=-80, y=2.5),
            Point(x=240, y=2.9, bound=Bound.AT_LEAST),
            Point(x=260, y=2.6, bound=Bound.AT_MOST),
        ),
        marks=(Mark(x=0.0, letter="R"), Mark(x=150.0, letter="A")),
        limits=(LIMIT,),
        ahead=Cone(x=290, y=2.72, limit=LIMIT, low=360, median=420, high=520),
    )
    text = "\n".join(drawn(trend))
    assert text.count("^") == 1
    assert text.count("v") == 1
    assert text.count("x") == 1
    assert "R" in text
    assert "A" in text
    assert text.count(".") > 10


def test_readings_stand_at_their_hours_and_values() -> None:
    """Cells counted back to numbers, within one cell each way."""
    frame = trend_frame(WORN, 80, 12)
    assert not isinstance(frame, Refusal)
    rows = drawn(WORN, 80, 12)
    canvas = rows[:-2]
    left = canvas[0].index("│") + 1
    wide, tall = 80 - left, len(canvas)
    found = [
        (column - left, row)
        for row, text in enumerate(canvas)
        for column, letter in enumerate(text)
        if letter == "o"
    ]
    assert len(found) == len(WORN.points)
    (x0, x1), (y0, y1) = frame.across, frame.upright
    for (column, row), point in zip(sorted(found), WORN.points, strict=True):
        assert abs(column / (wide - 1) - (point.x - x0) / (x1 - x0)) <= 1.0 / (wide - 1)
        assert abs((1 - row / (tall - 1)) - (point.y - y0) / (y1 - y0)) <= 1.0 / (tall - 1)


def test_what_is_no_number_is_left_out_and_an_outlier_stands_at_the_edge() -> None:
    wild = Trend(
        points=(
            *WORN.points,
            Point(x=math.nan, y=1.0),
            Point(x=10.0, y=math.inf),
            Point(x=150.0, y=1e12),
        ),
        marks=(Mark(x=math.nan, letter="R"),),
        limits=(LIMIT, math.nan),
    )
    rows = drawn(wild)
    text = "\n".join(rows)
    assert text.count("o") == len(WORN.points)
    assert "*" in rows[0]
    frame = trend_frame(wild, 80, 10)
    assert not isinstance(frame, Refusal)
    for stroke in frame.strokes:
        assert all(frame.across[0] <= x <= frame.across[1] for x in stroke.xs)
        assert all(frame.upright[0] <= y <= frame.upright[1] for y in stroke.ys)


@pytest.mark.parametrize("values", [[2.8], [2.8, 2.8], [0.0, 0.0], [1e-9, 2e-9], [-3.0, 3.0]])
def test_few_and_equal_readings_are_drawn(values: list[float]) -> None:
    points = tuple(Point(x=float(i), y=y) for i, y in enumerate(values))
    assert "".join(drawn(Trend(points=points))).count("o") >= 1


def test_a_band_without_an_end_stays_in_the_picture() -> None:
    ahead = Cone(x=290, y=2.72, limit=LIMIT, low=300, median=1e9, high=None)
    trend = Trend(points=WORN.points, limits=WORN.limits, ahead=ahead)
    text = "\n".join(drawn(trend))
    assert "x" not in text
    assert text.count("o") == 4


STEPS = Steps(
    xs=(10, 50, 120), ys=(0.9, 0.7, 0.3), start=1.0, end=150, lows=(0.7, 0.5, None),
    highs=(1.0, 0.9, math.inf), ticked=(30, 130),
)  # fmt: skip


def test_step_curve_falls_at_its_steps() -> None:
    rows = step_chart([STEPS], width=80, height=12, top=1.0)
    assert not isinstance(rows, Refusal)
    text = "\n".join(rows)
    assert text.count("+") == 2
    assert rows[0].count("=") < rows[0].count("│") + 20
    frame = step_frame([STEPS], 80, 12, 1.0)
    assert not isinstance(frame, Refusal)
    flats = [s for s in frame.strokes if s.letter == "="]
    assert [(s.xs, s.ys[0]) for s in flats] == [
        ((0.0, 10), 1.0), ((10, 50), 0.9), ((50, 120), 0.7), ((120, 150), 0.3),
    ]  # fmt: skip


def test_many_steps_are_drawn_in_no_more_strokes_than_cells() -> None:
    n = 20_000
    many = Steps(
        xs=tuple(float(i + 1) for i in range(n)), ys=tuple(float(i + 1) for i in range(n)),
        start=0.0, end=float(n),
    )  # fmt: skip
    frame = step_frame([many], 80, 12, None)
    assert not isinstance(frame, Refusal)
    assert len(frame.strokes) < 4 * 80
    assert not isinstance(step_chart([many], width=80, height=12), Refusal)


def test_without_plotext_one_sentence() -> None:
    absent = Refusal(reason="no picture: plotext cannot be loaded on this machine")
    assert trend_chart(WORN, width=80, height=10, load=lambda: absent) == absent
    assert step_chart([STEPS], width=80, height=10, load=lambda: absent) == absent


def test_loom_without_plotext_says_so_and_shows_the_rest(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "plotext", None)  # what a machine without a wheel has
    out = run("loom", "A07", "--folder", str(EXAMPLE), "--at", "2026-11-25T06:00").out
    assert "no picture: plotext cannot be loaded on this machine" in out
    assert "HISTORY" in out
    assert "readings +/-" in out


def test_an_older_plotext_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys
    from types import ModuleType

    monkeypatch.setitem(sys.modules, "plotext", ModuleType("plotext"))
    chart = trend_chart(WORN, width=80, height=10)
    assert isinstance(chart, Refusal)
    assert "plotext 6 is needed" in chart.reason


@pytest.mark.parametrize(("width", "height"), [(29, 10), (80, 5)])
def test_no_room_is_refused(width: int, height: int) -> None:
    assert isinstance(trend_chart(WORN, width=width, height=height), Refusal)


def test_nothing_to_draw_is_refused() -> None:
    assert isinstance(trend_chart(Trend(points=()), width=80, height=10), Refusal)
    empty = Steps(xs=(), ys=(), start=1.0, end=10.0)
    assert isinstance(step_chart([empty], width=80, height=10), Refusal)


def test_the_frame_becomes_ascii() -> None:
    for row in drawn(WORN):
        plain = to_ascii(row)
        assert plain.isascii()
        assert "?" not in plain
        assert len(plain) == len(row)


def test_two_threads_do_not_mix_their_pictures() -> None:
    narrow = Trend(points=(Point(x=0, y=1), Point(x=1, y=2)))
    expected = [drawn(WORN), drawn(narrow, 40, 8)]
    wrong: list[int] = []

    def draw(which: int) -> None:
        for _ in range(30):
            size = ((80, 10), (40, 8))[which]
            if drawn((WORN, narrow)[which], *size) != expected[which]:
                wrong.append(which)

    threads = [Thread(target=draw, args=(i % 2,)) for i in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


# -- on a loom's screen --------------------------------------------------------------------


def test_of_a_band_the_picture_runs_to_the_end_that_is_forecast() -> None:
    start = at("2026-11-01 06:00")
    lines = [f"{start:%Y-%m-%dT%H:%M}+00:00 A07 running; replaced belt"]
    for n in range(6):
        when = start + timedelta(hours=100 * n)
        lines.append(f"{when:%Y-%m-%dT%H:%M}+00:00 A07 belt {66 - n} Hz")
    log = "\n".join([*lines, ""])
    summary = summarise(read({"a.log": log}, "2026-11-25 06:00"))
    rows = [row.plain for row in trend_lines(summary, summary.loom("A07"), 80, 1)]
    (limit,) = [row for row in rows if row.startswith("47")]
    assert "---" in limit
    assert "x" in limit
    assert not [row for row in rows if row.startswith("68")]
    assert "h to limit 47 (90 % band)" in rows[-1]
    page = [row.plain for row in loom_lines(summary, "A07", 80)]
    assert any(row.startswith("belt tension") and "within limit 47" in row for row in page)


def test_charts_option_counts_them_and_the_others_are_named(run: Run) -> None:
    loom = ("loom", "B03", "--folder", str(EXAMPLE), "--at", "2026-11-25T06:00", "--width", "80")
    some, none = run(*loom, "--charts", "2").out, run(*loom, "--charts", "0").out
    every = run(*loom, "--charts", "99").out
    assert len(re.findall(r"over running hours since", some)) == 2
    assert "not drawn: " in some
    assert "TRENDS" not in none
    assert "not drawn" not in every


def test_json_of_a_loom_has_its_series(run: Run) -> None:
    import json

    out = run("loom", "A07", "--folder", str(EXAMPLE), "--at", "2026-11-25T06:00", "--json").out
    record = json.loads(out)
    wear = {(w["part"], w["side"], w["number"], w["quantity"]): w for w in record["wear"]}
    assert len(record["series"]) == len(record["wear"])
    for series in record["series"]:
        key = (series["part"], series["side"], series["number"], series["quantity"])
        values = [p["value"] for p in series["points"]]
        assert wear[key]["value"] in values
        uses = [p["use_h"] for p in series["points"]]
        assert uses == sorted(uses)
