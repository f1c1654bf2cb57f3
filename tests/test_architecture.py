"""The directions that imports may take, one home for each library, and the size of modules."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.conftest import ROOT

MODULES = sorted(p for top in ("board", "grammar") for p in (ROOT / top).rglob("*.py"))
NAMES = [str(p.relative_to(ROOT)) for p in MODULES]

# What each room may import of ours, longest prefix first.
MAY = {
    "grammar": ("grammar",),
    "board/mill.py": ("grammar",),
    "board/torque.py": ("grammar.frozen",),
    "board/state": ("grammar", "board.state", "board.mill", "board.torque"),
    "board/snapshot.py": ("grammar", "board.state", "board.mill"),
    "board/search": (
        "grammar",
        "board.state",
        "board.mill",
        "board.snapshot",
        "board.searched",
        "board.near",
        "board.wordings",
    ),
    "board/wordings.py": ("grammar",),
    "board/reckon": (
        "grammar",
        "board.state",
        "board.mill",
        "board.torque",
        "board.snapshot",
        "board.reckon",
    ),
    "board/show": (
        "grammar",
        "board.state",
        "board.mill",
        "board.snapshot",
        "board.reckon",
        "board.show",
        "board.keys",
        "board.search",
        "board.searched",
        "board.near",
        "board.judging",
    ),
    "board/show/archive_": (
        "grammar",
        "board.state",
        "board.mill",
        "board.snapshot",
        "board.reckon",
        "board.show",
        "board.search",
        "board.searched",
        "board.near",
        "board.archive",
    ),
    "board/index/": (
        "grammar",
        "board.mill",
        "board.snapshot",
        "board.state",
        "board.record",
        "board.search",
        "board.searched",
        "board.near",
        "board.wordings",
        "board.reckon.ended",
        "board.index",
    ),
    "board/archive/": (
        "grammar",
        "board.mill",
        "board.snapshot",
        "board.state",
        "board.record",
        "board.reckon",
        "board.search",
        "board.searched",
        "board.near",
        "board.index",
        "board.indexed",
        "board.loading",
        "board.shell",
        "board.tables",
        "board.table_columns",
        "board.archive",
        # what a question means in one mill, and what its answer is as plain values
        "board.commands.find",
        "board.commands.repeats",
        "board.show.text",
        "board.show.find_screen",
        "board.show.repeats_json",
    ),
    "board/record": ("grammar", "board.mill", "board.snapshot", "board.state", "board.record"),
}

# Each library has one home.
HOMES = {
    "lark": "grammar/",
    "watchdog": "board/record/watch.py",
    "plotext": "board/show/charts.py",
    "filelock": "board/record/",
    "termios": "board/posix_terminal.py",
    "pyarrow": ("board/tables.py", "board/archive/reading.py"),
}


def imported(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.append(node.module)
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return found


@pytest.mark.parametrize("name", NAMES)
def test_no_arrow_points_back(name: str) -> None:
    room = max((r for r in MAY if name.startswith(r)), key=len, default=None)
    if room is None:
        return  # the outer ring may import everything
    for module in imported(ROOT / name):
        if module.split(".")[0] not in ("board", "grammar"):
            continue
        if module in ("board", "grammar"):
            continue
        allowed = any(module == m or module.startswith(f"{m}.") for m in MAY[room])
        assert allowed, f"{name} imports {module}"


@pytest.mark.parametrize("name", NAMES)
def test_each_library_has_one_home(name: str) -> None:
    for module in imported(ROOT / name):
        home = HOMES.get(module.split(".")[0])
        assert home is None or name.startswith(home), f"{name} imports {module}, at home in {home}"


@pytest.mark.parametrize("name", NAMES)
def test_no_module_grows_past_350_lines(name: str) -> None:
    assert len((ROOT / name).read_text(encoding="utf-8").splitlines()) <= 350


@pytest.mark.parametrize("name", NAMES)
def test_every_module_opens_with_what_it_does(name: str) -> None:
    assert ast.get_docstring(ast.parse((ROOT / name).read_text(encoding="utf-8")))


def test_the_map_of_the_developers_guide_is_the_disk() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = set(re.findall(r"^\| `((?:board|grammar)/[\w/]+\.(?:py|lark))` \|", guide, re.MULTILINE))
    real = {n for n in NAMES if not n.endswith("__init__.py")} | {"grammar/entry.lark"}
    assert told == real


def test_invariants_of_the_guide_name_tests_that_exist() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", guide)
    assert len(named) >= 8
    for file, test in named:
        text = (ROOT / file).read_text(encoding="utf-8")
        assert not test or f"def {test}(" in text, f"{file}::{test}"
