"""Pictures in text: a part's readings running to their limit, and step curves with their limits.

The one home of plotext. It keeps one figure for the whole process, so a lock lets one thread draw
at a time; a number that is none aborts it and a far outlier eats the memory, so ``chart_shapes``
takes both out before. Where it is not to be had, a ``Refusal`` says so and the numbers beside
stand as they are. Every mark inside the frame is ASCII; the frame's box characters become ASCII
with the rest of a screen in ``text``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from threading import Lock
from typing import Any

from board.reckon.refusal import Refusal
from board.show.chart_shapes import (
    AT_LEAST,
    AT_MOST,
    BAND,
    LIMIT,
    MEDIAN,
    OUTSIDE,
    READING,
    Frame,
    Steps,
    Trend,
    step_frame,
    trend_frame,
)

LEGEND = {
    READING: "reading",
    AT_LEAST: "gauge: at least",
    AT_MOST: "gauge: at most",
    BAND: "90 % band",
    MEDIAN: "median",
    LIMIT: "limit",
    OUTSIDE: "beyond the picture",
}

NARROWEST, LOWEST = 30, 6  # cells and rows below which a picture tells nothing

_DRAWING = Lock()


def load_plotext() -> Any:
    """The drawing library, or a ``Refusal`` that says why there is none."""
    try:
        import plotext
    except Exception:  # no wheel for this machine, or one that does not load: numbers still do
        return Refusal(reason="no picture: plotext cannot be loaded on this machine")
    if not hasattr(plotext, "figure"):
        return Refusal(reason="no picture: plotext 6 is needed, an older one is installed")
    return plotext


def trend_chart(
    trend: Trend, *, width: int, height: int, load: Callable[[], Any] = load_plotext
) -> list[str] | Refusal:
    """A part's readings against their limit in ``height`` lines of ``width`` cells.

    Refuses where there is no reading, no room, or no plotext.
    """
    return _drawn(trend_frame(trend, width, height), width, height, load)


def step_chart(
    curves: Sequence[Steps],
    *,
    width: int,
    height: int,
    top: float | None = None,
    load: Callable[[], Any] = load_plotext,
) -> list[str] | Refusal:
    """Step curves with their limits, dotted, in ``height`` lines of ``width`` cells.

    ``top`` is the highest value of the picture, else that of the curves. Refuses where there is no
    step, no room, or no plotext.
    """
    return _drawn(step_frame(curves, width, height, top), width, height, load)


def _drawn(
    frame: Frame | Refusal, width: int, height: int, load: Callable[[], Any]
) -> list[str] | Refusal:
    if isinstance(frame, Refusal):
        return frame
    if width < NARROWEST or height < LOWEST:
        return Refusal(reason=f"a picture needs {NARROWEST} columns and {LOWEST} rows")
    plotext = load()
    if isinstance(plotext, Refusal):
        return plotext
    with _DRAWING:
        plotext.terminal.limit(False, False)  # else the picture shrinks to the terminal's size
        figure = plotext.figure
        figure.clear()
        try:
            figure.theme("colorless")
            figure.plot_size(width, height)
            both = (("x", frame.across, frame.x_names), ("y", frame.upright, frame.y_names))
            for axis, (low, high), names in both:
                ruler = figure.ruler(axis)
                ruler.lim(low, high)
                ruler.ticks([name[0] for name in names], [name[1] for name in names])
            for stroke in frame.strokes:
                signal = figure.signal(list(stroke.xs), list(stroke.ys), marker=stroke.letter)
                figure.draw(signal.lines(True) if stroke.joined else signal)
            figure.axes(active=False, axis=0, side=1)
            figure.axes(active=False, axis=1, side=1)
            text: str = figure.build().string(colorless=True)
        finally:
            figure.clear()
    rows = text.split("\n")[:height]
    return [row.ljust(width)[:width] for row in rows] + [" " * width] * (height - len(rows))
