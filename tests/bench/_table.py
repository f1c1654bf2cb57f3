"""The benchmark's tables as text, plain or Markdown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tests.bench._row import Result, Row, amount

HEAD = ("what", "must reach", "reached", "met", "ratio to a yardstick", "peak memory")
Results = Mapping[tuple[str, str], Result]


def main_table(rows: Sequence[Row], results: Results, sizes: Sequence[str]) -> list[list[str]]:
    """Every row at the size that its targets are for, else at the largest that was measured."""
    lines = [list(HEAD)]
    for row in rows:
        size = size_of(row, sizes)
        result = results.get((row.key, size))
        what = f"{row.what}, {size}"
        if result is None or result.reached is None:
            why = result.why if result else "not asked for"
            lines.append([what, row.target(), why, "", "", ""])
            continue
        reached = result.reached
        ratio = f"{reached.ratio:.2g} x {reached.against}" if reached.ratio is not None else ""
        peak = f"{result.peak_mib:,.0f} MiB"
        lines.append([what, row.target(), reached.words(), result.met(), ratio, peak])
    return lines


def growth_table(rows: Sequence[Row], results: Results, sizes: Sequence[str]) -> list[list[str]]:
    """Rows that depend on how much is on record, size by size."""
    lines = [["growth", *sizes]]
    for row in rows:
        found = [results.get((row.key, size)) for size in sizes]
        if row.grows and any(result and result.reached for result in found):
            lines.append([row.what, *(_cell(result) for result in found)])
    return lines


def _cell(result: Result | None) -> str:
    if result is None or result.reached is None:
        return "-"
    reached = result.reached
    name, value = next(iter(reached.figures.items()))
    return f"{name} {amount(value, reached.units[name])}".strip()


def size_of(row: Row, sizes: Sequence[str]) -> str:
    """The size at which a row is told in the main table."""
    return row.at if row.at in sizes else sizes[-1]


def plain(lines: Sequence[Sequence[str]]) -> str:
    """A table in columns; the last one is not padded."""
    widths = [max(len(line[n]) for line in lines) for n in range(len(lines[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def markdown(lines: Sequence[Sequence[str]]) -> str:
    """The same in Markdown."""
    head, *rest = ["| " + " | ".join(line) + " |" for line in lines]
    return "\n".join([head, "|" + "---|" * len(lines[0]), *rest])
