"""The machine that a benchmark ran on, in one line: without it no figure means anything."""

from __future__ import annotations

import os
import platform
from pathlib import Path


def machine() -> str:
    """Processor, cores, memory, Python, system, and how busy it was with other work."""
    cores = os.cpu_count() or 1
    told = [_processor(), f"{cores} core" + "s" * (cores != 1)]
    if "SC_PHYS_PAGES" in os.sysconf_names:
        memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        told.append(f"{memory / 2**30:.0f} GiB")
    told += [f"Python {platform.python_version()}", f"{platform.system()} {platform.release()}"]
    if hasattr(os, "getloadavg"):
        told.append(f"load before it {os.getloadavg()[0]:.1f}")
    return ", ".join(told)


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text("utf-8").splitlines()
    except OSError:
        lines = []
    named = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return named[0] if named else platform.processor() or platform.machine()
