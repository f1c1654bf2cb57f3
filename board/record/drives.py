"""Tell whether a folder lies on a drive that does not signal the saves of other machines.

It reads the text of /proc/mounts, which only Linux has; elsewhere, and for kinds of drive not
listed here, the answer is "no" and `keeper` finds out by missed signals instead.
"""

import re
from pathlib import Path

# File systems whose other users' saves never reach this machine's inotify.
# Source: inotify(7), Linux man-pages, "Limitations and caveats": "Inotify reports only events
# that a user-space program triggers through the filesystem API. As a result, it does not catch
# remote events that occur on network filesystems."
# fmt: off
_REMOTE = frozenset((
    "9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "drvfs", "gfs2", "glusterfs", "gpfs",
    "lustre", "ncpfs", "nfs", "nfs4", "ocfs2", "prl_fs", "smb3", "smbfs", "vboxsf", "virtiofs",
    "vmhgfs",
))
# fmt: on
_MOUNTS = Path("/proc/mounts")


def read_mounts() -> str:
    """Read the table of mounted drives; empty where there is none."""
    try:
        return _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape")
    except OSError:
        return ""


def remote_kind(folder: str, mounts: str) -> str | None:
    """Name the kind of network drive that `folder`, or a folder below it, lies on.

    `folder` is absolute and free of links, `mounts` the text of /proc/mounts. The answer is the
    kind as the system writes it, such as "nfs4", or None when all of it is on local drives.
    """
    holder, kind_here = "", ""
    for point, kind in _parse(mounts):
        if _contains(point, folder) and len(point) >= len(holder):
            # A later line hides an earlier one at the same place.
            holder, kind_here = point, kind
        elif _contains(folder, point) and _is_remote(kind):
            return kind
    return kind_here if _is_remote(kind_here) else None


def _parse(mounts: str) -> list[tuple[str, str]]:
    fields = (line.split(" ") for line in mounts.splitlines())
    return [(_unescape(parts[1]), parts[2]) for parts in fields if len(parts) >= 3]


def _unescape(text: str) -> str:
    # Blanks, tabs, line ends and backslashes are written as three octal digits: fstab(5).
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found.group(1), 8)), text)


def _contains(outer: str, inner: str) -> bool:
    return inner == outer or inner.startswith(outer.rstrip("/") + "/")


def _is_remote(kind: str) -> bool:
    # "fuseblk" is a local disk (NTFS); "fuse.sshfs" and its kin may be anything: look, don't wait.
    return kind in _REMOTE or kind == "fuse" or kind.startswith("fuse.")
