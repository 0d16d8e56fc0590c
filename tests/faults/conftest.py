"""Small disks for whoever asks for one."""

from __future__ import annotations

import pytest
from faults.disk_desk import Disk


@pytest.fixture
def disk(tmp_path):
    yield from mounted(tmp_path, 512)


def mounted(tmp_path, size_kb):
    disk = Disk(tmp_path / "small", size_kb)
    if not disk.is_there:
        disk.home.rmdir()
        pytest.skip("no small file system can be made here: that needs mount and its rights")
    yield disk
    disk.close()


@pytest.fixture
def roomy_disk(tmp_path):
    yield from mounted(tmp_path, 4096)
