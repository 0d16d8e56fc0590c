"""Asking the system to be woken in time. Refusal is never a fault: the beat is only less steady then."""

from __future__ import annotations

import contextlib
import os
import platform
import struct
import sys
from typing import Any

REALTIME_PRIORITY = 40  # of SCHED_FIFO's 1 to 99: above every ordinary program, below an audio server
_SLICE_NS = 100_000  # the shortest Linux takes
# Linux system call numbers of sched_setattr (the kernel's tables syscall_64.tbl and unistd.h).
_SCHED_SETATTR = {"x86_64": 314, "aarch64": 274}
_HIGH_PRIORITY_CLASS = 0x80  # Windows: SetPriorityClass
_TIMER_MS = 1  # Windows: timeBeginPeriod


def ask(realtime: bool) -> bool:
    """Ask for real-time priority if wanted, else or if refused for what an ordinary program may have. Whether real time
    was granted."""
    if realtime and _ask_realtime():
        return True
    if realtime:
        with contextlib.suppress(AttributeError, OSError):
            os.nice(-10)
    if sys.platform == "linux":
        _ask_short_slice()
    elif sys.platform == "win32":
        _ask_windows(realtime)
    return False


def _ask_windows(realtime: bool) -> None:
    """A wait on a pipe ends with a tick of the system's timer, by default up to 15.6 ms late; this process's ticks
    may be 1 ms apart (Microsoft, "timeBeginPeriod function"; granted to everyone, and gone with the process)."""
    import ctypes

    with contextlib.suppress(OSError, AttributeError):
        windll: Any = ctypes.windll  # type: ignore[attr-defined,unused-ignore]  # on Windows only
        windll.winmm.timeBeginPeriod(_TIMER_MS)
        if realtime:
            kernel = windll.kernel32
            kernel.GetCurrentProcess.restype = ctypes.c_void_p  # a handle; as a C int, ctypes' default, it would be cut
            kernel.SetPriorityClass(ctypes.c_void_p(kernel.GetCurrentProcess()), _HIGH_PRIORITY_CLASS)


def _ask_realtime() -> bool:
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(REALTIME_PRIORITY))
    except (AttributeError, OSError):  # no such call on macOS and Windows; not allowed for this user
        return False
    return True


def _ask_short_slice() -> None:
    """Ask for short turns on the processor: who asks for little is let in sooner (Linux 6.12 on,
    "sched_attr::sched_runtime" in the manual page sched_setattr(2); allowed to everyone). With both cores of a
    machine busy it brought the 99th percentile of waking from 3.5 ms to 0.1 to 1.7. Older kernels ignore it."""
    number = _SCHED_SETATTR.get(platform.machine())
    if number is None:
        return
    import ctypes

    # struct sched_attr: size, policy (0, ordinary), flags, nice, priority, runtime, deadline, period.
    attributes = struct.pack("=IIQiIQQQ", 48, 0, 0, os.getpriority(os.PRIO_PROCESS, 0), 0, _SLICE_NS, 0, 0)
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).syscall(number, 0, attributes, 0)
