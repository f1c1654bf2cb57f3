"""The folder for what can be derived anew: it may be deleted at any time."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path


def default_cache_folder(environ: Mapping[str, str]) -> Path | None:
    """The folder for what can be derived anew, made where needed; None where nothing can be kept.

    Source: XDG Base Directory Specification 0.8 (2021): ``XDG_CACHE_HOME``, only if absolute, else
    ``~/.cache``; a folder is made for its owner alone. On Windows ``LOCALAPPDATA``.
    """
    folder = _cache_home(environ)
    if folder is None:
        return None
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (OSError, ValueError):
        return None
    return folder if os.access(folder, os.W_OK | os.X_OK) else None


def _cache_home(environ: Mapping[str, str]) -> Path | None:
    local = Path(environ.get("LOCALAPPDATA") or "")
    if os.name == "nt" and local.is_absolute():
        return local / "loomslate" / "cache"
    given = Path(environ.get("XDG_CACHE_HOME") or "")
    if given.is_absolute():
        return given / "loomslate"
    home = Path(environ.get("HOME") or environ.get("USERPROFILE") or "")
    return home / ".cache" / "loomslate" if home.is_absolute() else None
