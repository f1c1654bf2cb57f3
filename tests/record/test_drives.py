"""Network drives in the text of /proc/mounts; the line format is that of fstab(5), Linux man-pages."""

import pytest

from board.record.drives import read_mounts, remote_kind

MOUNTS = r"""/dev/vda / ext4 rw,relatime 0 0
proc /proc proc rw 0 0
tmpfs /tmp tmpfs rw 0 0
mill:/export /mnt/mill nfs4 rw,vers=4.2 0 0
//mill/logs /mnt/two\040words cifs rw 0 0
me@mill: /home/me/far fuse.sshfs rw 0 0
/dev/sdb1 /mnt/stick fuseblk rw 0 0
/dev/sdc1 /mnt/mill/disk ext4 rw 0 0
//mill/b /srv/shed/2025 smb3 rw 0 0
share /w 9p rw 0 0
/dev/sdd1 /w ext4 rw 0 0

garbled
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/logs", None),
        ("/tmp/logs", None),
        ("/mnt/mill", "nfs4"),
        ("/mnt/mill/shed/logs", "nfs4"),
        ("/mnt/miller", None),
        ("/mnt/two words/logs", "cifs"),
        ("/home/me/far/logs", "fuse.sshfs"),
        ("/mnt/stick/logs", None),
        ("/mnt/mill/disk/logs", None),
        ("/srv/shed", "smb3"),
        ("/srv/shed/2026", None),
        ("/w/logs", None),
    ],
)
def test_remote_kind(folder: str, kind: str | None) -> None:
    assert remote_kind(folder, MOUNTS) == kind


def test_no_table_means_no_network_drive() -> None:
    assert remote_kind("/srv/logs", "") is None


def test_this_machine_has_a_table_that_can_be_read() -> None:
    assert remote_kind("/proc", read_mounts()) is None
