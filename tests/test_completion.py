"""Completion of the command line: the names of the shed, and what the shells make of the scripts."""

from __future__ import annotations

import os
import pty
import select
import shlex
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from board import cli
from board.completion import SHELLS, What, described
from board.completion_scripts import script
from board.names import beginning, folder_of, names
from board.record.register import read_register
from tests.conftest import EXAMPLE, ROOT, SMALL_REGISTER, Run

COMMANDS = described(cli.parser())
needs = {
    shell: pytest.mark.skipif(shutil.which(shell) is None, reason=f"no {shell} here")
    for shell in SHELLS
}


# -- the description ---------------------------------------------------------------------------


def test_every_command_and_option_of_the_parser_is_described() -> None:
    assert [c.name for c in COMMANDS] == ["", *cli.COMMANDS]
    for command in COMMANDS[1:]:
        assert {"--help", "-h"} <= {s for o in command.options for s in o.spellings}
    board = next(c for c in COMMANDS if c.name == "board")
    spelt = {s for option in board.options for s in option.spellings}
    assert spelt >= {"--folder", "--at", "--index", "--json", "--since", "--section", "--all"}
    assert [p.metavar for p in board.places] == ["FOLDER"]


def test_what_takes_a_value_and_what_is_offered_for_it() -> None:
    lives = next(c for c in COMMANDS if c.name == "lives")
    by = next(o for o in lives.options if "--by" in o.spellings)
    assert by.repeated
    assert by.offer is not None
    assert by.offer.words == ("side", "batch", "style", "mill")
    json = next(o for o in lives.options if "--json" in o.spellings)
    assert json.offer is None
    assert [p.offer.kind for p in lives.places] == ["parts"]
    assert next(c for c in COMMANDS if c.name == "loom").places[0].offer.kind == "looms"


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_option_and_choice_stands_in_the_script(shell: str) -> None:
    text = script(shell, COMMANDS)
    assert text.isascii()
    for command in COMMANDS:
        assert command.name in text
        for option in command.options:
            for spelling in option.spellings:
                name = spelling.lstrip("-")
                own = f"-l {name}" if spelling.startswith("--") else f"-s {name}"
                assert (own if shell == "fish" else spelling) in text
            if option.offer is not None and option.offer.what is What.WORDS:
                assert all(word in text for word in option.offer.words)


@pytest.mark.parametrize("shell", SHELLS)
def test_the_script_is_printed_and_told_of(shell: str, run: Run) -> None:
    done = run("--completion", shell)
    assert (done.code, done.err) == (0, "")
    assert done.out == script(shell, COMMANDS)
    assert "--completion" in cli.parser("board").format_help()
    assert f"loomslate --completion {shell}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_another_shell_is_refused_in_one_sentence(run: Run) -> None:
    done = run("--completion", "ksh")
    assert done.code == 2
    assert done.err.count("\n") == 1
    assert "bash" in done.err


# -- the names ---------------------------------------------------------------------------------


def test_names_are_those_of_the_register() -> None:
    mill = read_register((EXAMPLE / "shed.toml").read_bytes())
    folder = str(EXAMPLE)
    assert names("looms", folder) == mill.looms
    assert names("sections", folder) == tuple(s.name for s in mill.sections)
    assert names("shifts", folder) == tuple(s.name for s in mill.shifts)
    vocabulary = mill.vocabulary
    assert names("parts", folder) == tuple(
        dict.fromkeys(w for part in vocabulary.parts for w in (part.name, *part.words))
    )
    assert set(names("sides", folder)) == {s for part in vocabulary.parts for s in part.sides}


@pytest.mark.parametrize(
    "looms", ['["14"]', '["1-12"]', '["A8-A011", "x9"]', '["W-01–W-03"]', '["A 1-A 3"]', "[]"]
)
def test_looms_are_written_out_as_the_register_does(looms: str, shed: Callable[..., Path]) -> None:
    text = SMALL_REGISTER.replace('["A01-A12"]', looms)
    mill = read_register(text)
    found = names("looms", str(shed({}, text)))
    if hasattr(mill, "looms"):
        assert found == mill.looms


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("", ["A07", "A17", "A70", "führung"]),
        ("a7", ["A70"]),
        ("A0", ["A07"]),
        ("a01", []),
        ("a017", ["A17"]),
        ("a17", ["A17"]),
        ("FÜ", ["führung"]),
        ("ung", []),
    ],
)
def test_what_may_be_typed_for_a_name(typed: str, found: list[str]) -> None:
    assert beginning(["A07", "A17", "A70", "führung"], typed) == found


def test_zeros_may_be_left_out_where_nothing_else_begins_so() -> None:
    assert beginning(["A07", "A17"], "a7") == ["A07"]


@pytest.mark.parametrize(
    "words",
    [
        ["loom", "--folder", "{}", "A0"],
        ["loom", "--folder={}", "A0"],
        ["loom", "--folder", "=", "{}"],
        ["loom", "--folder", "'{}'"],
        ["board", "{}", "--section"],
        ["board", "--at", "{}", "nonsense"],
    ],
)
def test_the_folder_is_found_in_the_line(words: list[str], tmp_path: Path) -> None:
    folder = tmp_path / "own logs"
    folder.mkdir()
    (folder / "shed.toml").touch()
    assert folder_of([word.replace("{}", str(folder)) for word in words]) == str(folder)


def asked(*words: str, **environ: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "board", "--names", *words],
        cwd=ROOT, env={**os.environ, "PYTHONUTF8": "1", **environ},
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False,
    )  # fmt: skip


def test_the_folder_of_the_environment_is_asked() -> None:
    done = asked("looms", "a2", "loom", LOOMSLATE_LOGS=str(EXAMPLE))
    assert done.stdout.split() == ["A20", "A21", "A22", "A23", "A24"]


HOSTILE = """
[section."$(touch sprung)"]
looms = ["A1-A99999999999", "`touch sprung`", "a\\u001b[31m", "b\\nc", 7, ["x"]]
[section.B]
looms = "B01"
[part]
tape = 3
"""


@pytest.mark.parametrize(
    ("words", "register"),
    [
        ((), SMALL_REGISTER),
        (("looms",), SMALL_REGISTER),
        (("nonsense", ""), SMALL_REGISTER),
        (("looms", "", "loom", "--folder", "/no/such/folder"), SMALL_REGISTER),
        (("parts", "", "--folder"), "[part"),
        (("parts", ""), "\x00"),
        (("sides", ""), HOSTILE),
    ],
)
def test_it_is_silent_about_whatever_is_wrong(
    words: tuple[str, ...], register: str, shed: Callable[..., Path]
) -> None:
    done = asked(*words, LOOMSLATE_LOGS=str(shed({}, register)))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_names_that_a_terminal_could_obey_are_left_out(shed: Callable[..., Path]) -> None:
    found = names("looms", str(shed({}, HOSTILE)))
    assert "`touch sprung`" in found
    assert all(name.isprintable() for name in found)
    assert len(found) < 6000


def test_the_installed_program_begins_where_names_are_answered() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["scripts"]["loomslate"] == "board.__main__:main"


def test_nothing_of_ours_is_loaded_for_it() -> None:
    code = (
        "import sys; sys.argv[1:] = ['--names', 'looms', '']; import board.__main__ as m; m.main();"
        "print(*sorted(n for n in sys.modules if n.split('.')[0] in ('board', 'grammar', 'argparse')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=EXAMPLE, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "board board.__main__ board.names"
    assert done.stdout.splitlines()[0] == "A01"


# -- the shells --------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def path(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A search path on which the program of this checkout is found."""
    folder = tmp_path_factory.mktemp("program")
    program = folder / "loomslate"
    program.write_text(
        f'#!/bin/sh\nPYTHONPATH={shlex.quote(str(ROOT))} exec {sys.executable} -m board "$@"\n'
    )
    program.chmod(0o755)
    for shell in SHELLS:
        (folder / f"own.{shell}").write_text(script(shell, COMMANDS), encoding="utf-8")
    return f"{folder}{os.pathsep}{os.environ['PATH']}"


def shell_run(shell: str, path: str, code: str, cwd: Path = ROOT) -> list[str]:
    """The lines that a shell prints which has read the script."""
    own = Path(path.split(os.pathsep)[0]) / f"own.{shell}"
    environ = {k: v for k, v in os.environ.items() if not k.startswith("LOOMSLATE")}
    plain = {"bash": ["--norc"], "fish": ["--no-config"], "zsh": ["-f"]}[shell]
    done = subprocess.run(
        [shell, *plain, "-c", f"source {shlex.quote(str(own))}\n{code}"],
        cwd=cwd, env={**environ, "PATH": path, "LC_ALL": "C.UTF-8"}, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout.splitlines()


def in_bash(path: str, *words: str, cwd: Path = ROOT) -> list[str]:
    code = (
        f"COMP_WORDS=({' '.join(map(shlex.quote, words))}); COMP_CWORD={len(words) - 1}\n"
        "_loomslate\n"
        '((${#COMPREPLY[@]})) && printf "%s\\n" "${COMPREPLY[@]}"; true'
    )
    return shell_run("bash", path, code, cwd)


@needs["bash"]
@pytest.mark.parametrize(
    ("line", "offered"),
    [
        (("wa",), ["watch"]),
        (("--c",), ["--completion"]),
        (("--completion", ""), ["bash", "zsh", "fish"]),
        (("board", "--s"), ["--since", "--section"]),
        (("board", "logs_ex"), ["logs_example"]),
        (("board", "--folder", "logs_ex"), ["logs_example"]),
        (("board", "--folder", "=", "logs_ex"), ["logs_example"]),
        (("check", "logs_example/sh"), ["logs_example/shed.toml"]),
        (("lives", "--by", ""), ["side", "batch", "style", "mill"]),
        (("lives", "--by", "b"), ["batch"]),
        (("loom", "--folder", "logs_example", "a1"), [
            "A10", "A11", "A12", "A13", "A14", "A15", "A16", "A17", "A18", "A19",
        ]),
        (("loom", "--folder", "logs_example", "a7"), ["A07"]),
        (("loom", "--folder", "=", "logs_example", "B24"), ["B24"]),
        (("loom", "--at", "2026-11-25T06", ":", "00", "--folder", "logs_example", "b23"), ["B23"]),
        (("loom", "A07", "--ju"), []),
        (("loom", "A07", "--js"), ["--json"]),
        (("lives", "--folder", "logs_example", "rap"), ["rapier\\ tape"]),
        (("lives", "--folder", "logs_example", "'rap"), ["rapier tape"]),
        (("wear", "logs_example", "--part", "füh"), ["führung"]),
        (("wear", "logs_example", "--section", ""), ["A", "B"]),
        (("round", "logs_example", "--shift", "=", ""), ["early", "late", "night"]),
        (("round", "logs_example", "--shift", "="), ["early", "late", "night"]),
        (("find", "weft", "--kind", "to"), ["torque"]),
        (("find", "--by", ""), []),
        (("loom", "--folder", "/no/such/folder", "A"), []),
    ],
    ids=" ".join,
)  # fmt: skip
def test_bash_completes(line: tuple[str, ...], offered: list[str], path: str) -> None:
    assert in_bash(path, "loomslate", *line) == offered


@needs["bash"]
def test_bash_offers_options_where_a_place_is_taken(path: str) -> None:
    assert in_bash(path, "loomslate", "loom", "A07", "")[:2] == ["-h", "--help"]


@needs["bash"]
def test_bash_runs_nothing_that_stands_in_a_register(
    path: str, shed: Callable[..., Path], tmp_path: Path
) -> None:
    folder = str(shed({}, HOSTILE))
    assert "\\`touch\\ sprung\\`" in in_bash(
        path, "loomslate", "loom", "--folder", folder, "`", cwd=tmp_path
    )
    found = in_bash(path, "loomslate", "board", folder, "--section", "", cwd=tmp_path)
    assert found == ["\\$\\(touch\\ sprung\\)", "B"]
    assert not list(tmp_path.rglob("sprung"))


@needs["fish"]
@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("loomslate wa", ["watch"]),
        ("loomslate board --sec", ["--section"]),
        ("loomslate board logs_ex", ["logs_example/"]),
        ("loomslate lives --by ", ["batch", "mill", "side", "style"]),
        ("loomslate loom --folder logs_example B2", ["B20", "B21", "B22", "B23", "B24"]),
        ("loomslate round logs_example --shift ", ["early", "late", "night"]),
        ("loomslate find --loom board --sid", ["--side"]),
        ("loomslate find --by ", []),
    ],
)
def test_fish_completes(line: str, offered: list[str], path: str) -> None:
    found = shell_run("fish", path, f"complete -C {shlex.quote(line)}")
    assert [row.split("\t")[0] for row in found] == offered


@pytest.mark.parametrize("shell", [pytest.param(s, marks=needs[s]) for s in SHELLS])
def test_the_shell_finds_no_fault_in_the_script(shell: str, path: str) -> None:
    own = str(Path(path.split(os.pathsep)[0]) / f"own.{shell}")
    done = subprocess.run(
        [shell, "-n", own], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.fixture
def zsh(path: str, tmp_path: Path) -> Iterator[Callable[[str, str], str]]:
    """Types into a real zsh and reads until a text appears."""
    environ = {"PATH": path, "HOME": str(tmp_path), "LC_ALL": "C.UTF-8", "TERM": "dumb"}
    main, end = pty.openpty()
    process = subprocess.Popen(
        ["zsh", "-f", "-i"], stdin=end, stdout=end, stderr=end, cwd=ROOT, env=environ,
        start_new_session=True,
    )  # fmt: skip
    os.close(end)

    def typed(keys: str, until: str) -> str:
        os.write(main, keys.encode())
        seen, last = "", time.monotonic() + 60
        while until not in seen and time.monotonic() < last:
            if select.select([main], [], [], 0.2)[0]:
                seen += os.read(main, 65536).decode(errors="replace")
        return seen

    yield typed
    process.kill()
    process.wait()
    os.close(main)


@needs["zsh"]
def test_zsh_completes(zsh: Callable[[str, str], str], path: str) -> None:
    own = Path(path.split(os.pathsep)[0]) / "own.zsh"
    ready = f"autoload -Uz compinit; compinit -u -D; source {own}; print re''ady\n"
    assert "ready" in zsh(ready, "ready")
    for begun, whole in (
        ("loomslate boa", "loomslate board"),
        ("loomslate board --sect", "--section"),
        ("loomslate loom --folder logs_example b024", "B24"),
        ("loomslate wear logs_example --part gri", "gripper"),
        ("loomslate lives --unit pi", "picks"),
        ("loomslate board logs_ex", "logs_example"),
    ):
        assert whole in zsh(f"{begun}\t", whole), begun
        zsh("\x15print cle''ar\n", "clear")
