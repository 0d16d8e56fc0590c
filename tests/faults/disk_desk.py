"""A student's folders on a small disk that can be filled and emptied or made read-only, a desk on them, and commands without the
rights of the system's owner."""

from __future__ import annotations

import ctypes
import errno
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

from desk import Desk, Hands, put, right
from session_songs import FOUR

from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.store.log.patient_log import PatientLog
from companion.store.paths import Paths, find_paths

REPOSITORY = Path(__file__).parents[2]


class Disk:
    """A file system of so many kilobytes in memory at `home`, with the student's folders on it."""

    def __init__(self, home: Path, size_kb: int = 512) -> None:
        self.home = home
        home.mkdir(parents=True)
        self._ballast = home / "ballast"
        self.is_there = self._mount("-t", "tmpfs", "-o", f"size={size_kb}k,mode=755", "companion-test")
        self.paths: Paths = find_paths({"COMPANION_HOME": str(home)})

    def _mount(self, *arguments: str) -> bool:
        try:
            return (
                subprocess.run(["mount", *arguments, str(self.home)], check=False, capture_output=True).returncode == 0
            )
        except OSError:
            return False

    def fill(self, but_pages: int = 0) -> None:
        """To the last byte, but for so many pages of 4096."""
        with self._ballast.open("ab", buffering=0) as file:
            for size in (4096, 1):
                try:
                    while file.write(b"x" * size):
                        pass
                except OSError as error:
                    assert error.errno == errno.ENOSPC
            file.truncate(file.tell() - 4096 * but_pages)

    def make_room(self) -> None:
        self._ballast.unlink()

    def lock(self) -> None:
        """From now on it can only be read."""
        assert self._mount("-o", "remount,ro")

    def unlock(self) -> None:
        assert self._mount("-o", "remount,rw")

    def close(self) -> None:
        if self.is_there:
            subprocess.run(["umount", "-l", str(self.home)], check=True, capture_output=True)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def practise(log: PatientLog, settings, kind: str = "play", hands: Hands = right, text: str = FOUR, **options) -> Desk:
    """A desk with a stretch of practising begun on it, at 240 beats a minute."""
    stand = put(text, settings).with_tempo(240)
    options = {"now": lambda: desk.clock(), "keyboard": True} | options
    practice = Practice(stand, new_drill(stand, kind, DrillSettings()), log, **options)
    desk = Desk(practice, hands)
    desk.log = log
    desk.send(practice.begin())
    return desk


def go_on(desk: Desk, passes: int) -> None:
    """Until so many passes are over since the start, each written to the log as far as that can be written."""

    def is_over() -> bool:
        if hasattr(desk.log, "settle"):
            desk.log.settle()  # a pass takes seconds, and no time at all here
        return desk.turns > passes

    desk.run(until=is_over)
    assert desk.turns == passes + 1, "the music goes on"


def break_off(desk: Desk) -> None:
    desk.send(desk.practice.stop())
    desk.run(2.0)
    assert not desk.sound.playing and not hanging(desk)


def hanging(desk: Desk) -> Counter:
    """Notes that were struck and not ended."""
    count: Counter = Counter()
    for _, _, sound in desk.output.sent:
        if sound.what in ("note_on", "note_off"):
            count[sound.channel, sound.note] += 1 if sound.what == "note_on" else -1
    return +count


# --- the program itself, as a student without special rights starts it


def give_up_rights() -> None:
    """In a child about to run a program: root too may then write only where the modes of the files let it.

    prctl(PR_CAPBSET_DROP) for CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH: linux/prctl.h, linux/capability.h.
    """
    if os.geteuid() == 0:
        libc = ctypes.CDLL(None, use_errno=True)
        for capability in (1, 2):
            if libc.prctl(24, capability, 0, 0, 0):
                raise OSError(ctypes.get_errno(), "the rights cannot be given up")


def companion(*arguments: str, home: Path, seconds: float = 60, **options) -> subprocess.CompletedProcess[str]:
    """Run a command and wait for it."""
    env = os.environ | {"COMPANION_HOME": str(home), "PYTHONPATH": str(REPOSITORY)}
    return subprocess.run(
        [sys.executable, "-c", "import sys; from companion.cli.main import main; sys.exit(main())", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=seconds,
        stdin=subprocess.DEVNULL,
        env=env,
        cwd=home.parent,
        **options,
    )


def is_one_sentence(words: str) -> bool:
    return bool(words.strip()) and "Traceback" not in words and len(words.strip().splitlines()) == 1
