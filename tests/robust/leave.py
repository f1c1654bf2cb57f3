"""The real program as a process of its own, with no more leave and no more room than it is given."""

from __future__ import annotations

import ctypes
import os
import resource
import subprocess
import sys
from enum import Enum
from typing import Any

from tests.conftest import ROOT

_CAPBSET_DROP = 24  # prctl(2)
_DAC_OVERRIDE, _DAC_READ_SEARCH = 1, 2  # capabilities(7)


def as_anybody() -> None:
    """In the child, before the program begins: give up what root may do with any file."""
    for capability in (_DAC_OVERRIDE, _DAC_READ_SEARCH):
        ctypes.CDLL(None, use_errno=True).prctl(_CAPBSET_DROP, capability, 0, 0, 0)


class Leave(Enum):
    """Whether the program may read and write what the leaves of files forbid, as root may."""

    AS_IT_IS = "as it is"
    AS_ANYBODY = "as anybody"


def program(
    *arguments: str,
    limit: int | None = None,
    leave: Leave = Leave.AS_IT_IS,
    out: Any = subprocess.PIPE,
    **environ: str,
) -> subprocess.CompletedProcess[str]:
    """The real program as a process of its own; ``limit`` [bytes] is how long a file may grow."""

    def limited() -> None:
        if limit is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        if leave is Leave.AS_ANYBODY:
            as_anybody()

    return subprocess.run(
        [sys.executable, "-m", "board", *arguments],
        cwd=ROOT, stdout=out, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        timeout=120, check=False, preexec_fn=limited,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", **environ},
    )  # fmt: skip
