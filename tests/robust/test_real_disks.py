"""A real file system that is full, and one that is read-only, in a mount namespace of its own."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT

MOUNTED = 'mount -t tmpfs -o size=128k none "$1" && exec "$0" -m tests.robust.on_a_small_disk "$@"'


def may_mount(folder: Path) -> bool:
    """Whether this process may mount, which takes Linux and root."""
    if sys.platform != "linux" or shutil.which("unshare") is None:
        return False
    trial = ["unshare", "-m", "mount", "-t", "tmpfs", "none", str(folder)]
    return subprocess.run(trial, capture_output=True, check=False).returncode == 0


def test_a_full_disk_and_one_that_is_read_only(tmp_path: Path) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    if not may_mount(folder):
        pytest.skip("this user may not mount a file system")
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", MOUNTED, sys.executable, str(folder), str(tmp_path / "c")],
        cwd=ROOT, env=dict(os.environ), capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stdout)
    assert len(seen["told"]) > 5
    assert seen["full"]["code"] == 2
    assert seen["full"]["err"].startswith("loomslate: nothing was written to ")
    assert "disk" in seen["full"]["err"]
    entries = [line.split(" ", 1)[1] for line in seen["text"].splitlines() if line[:3] != "day"]
    assert entries == seen["told"]  # each once, whole, and nothing else
    assert seen["text"].endswith("\n")
    assert seen["board"] == [0, ""]
    assert seen["after"] == [0, ""]
    code, sentence = seen["read_only"]
    assert code == 2
    assert sentence.startswith("loomslate: nothing was written")
    assert "read-only" in sentence or "cannot be written to" in sentence
    assert sentence.count("\n") == 1
    assert seen["board_again"] == [0, ""]
