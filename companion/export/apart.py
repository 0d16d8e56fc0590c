"""An export in a process of its own, at low priority: engraving and encoding hold on to the interpreter for seconds, and
neither the beat nor the screen may wait for that."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.export.options import ExportError, ExportOptions

if TYPE_CHECKING:
    from companion.session.stand import Stand
    from companion.store.settings import Settings

_PROGRAM = "from companion.export.apart import main; main()"
_LOW_PRIORITY = 10


def export_apart(stand: Stand, target: Path, options: ExportOptions, settings: Settings) -> list[Path]:
    """As targets.export, and as long, but in another process. To be called from a thread. Raises ExportError."""
    package = str(Path(__file__).resolve().parent.parent.parent)
    paths = [package, *filter(None, [os.environ.get("PYTHONPATH")])]
    done = subprocess.run(
        [
            sys.executable,
            "-P",
            "-c",
            _PROGRAM,
        ],  # -P: a file called pickle.py in the folder one stands in must not be run
        input=pickle.dumps((stand, target, options, settings)),
        capture_output=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        creationflags=getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0),  # Windows' way to be nice
        check=False,
    )
    try:
        answer: list[Path] | str = pickle.loads(done.stdout)
    except (pickle.UnpicklingError, EOFError, IndexError):
        last = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["it ended without a word"]
        raise ExportError(f"{target} was not written: {last[0]}") from None
    if isinstance(answer, str):
        raise ExportError(answer)
    return answer


def main() -> None:
    """The other process: what to do comes on its input, the paths or the fault's sentence go to its output."""
    from companion.export.formats import export

    if hasattr(os, "nice"):
        os.nice(_LOW_PRIORITY)
    output = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints must not get between
    stand, target, options, settings = pickle.load(sys.stdin.buffer)
    try:
        answer: list[Path] | str = export(stand, target, options, settings)
    except CompanionError as error:
        answer = str(error)
    with output:
        output.write(pickle.dumps(answer))
