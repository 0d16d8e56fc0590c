"""Starting the processes of this room, in the one way that every system has: by spawn, a fresh Python."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Iterator
from multiprocessing.process import BaseProcess

_SAFE_PATH = "PYTHONSAFEPATH"


def start(process: BaseProcess) -> None:
    """Start a process made from the context "spawn". Call it from a script that guards its own start, as console
    scripts do."""
    with _real_stderr(), _safe_path(), _no_interrupt():
        process.start()


@contextlib.contextmanager
def _no_interrupt() -> Iterator[None]:
    """Ctrl+C is for the app, and must not strike a process that has only begun: it would print where it was. The new process has
    it blocked for good; ours gets it afterwards."""
    if sys.platform == "win32":  # has no such mask
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # it is started together with the first process, and would lift the block
    before = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,))
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextlib.contextmanager
def _safe_path() -> Iterator[None]:
    """A spawned Python begins with `-c`, which looks for modules in the folder one stands in first: a file called
    pickle.py there must not be run."""
    before = os.environ.get(_SAFE_PATH)
    os.environ[_SAFE_PATH] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[_SAFE_PATH]
        else:
            os.environ[_SAFE_PATH] = before


@contextlib.contextmanager
def _real_stderr() -> Iterator[None]:
    """A full-screen app puts a stderr without a descriptor in place, and spawning a process passes that descriptor
    on."""
    shown = sys.stderr
    try:
        usable = shown is not None and shown.fileno() >= 0
    except (OSError, ValueError, AttributeError):
        usable = False
    if usable or sys.__stderr__ is None:
        yield
        return
    sys.stderr = sys.__stderr__
    try:
        yield
    finally:
        sys.stderr = shown
