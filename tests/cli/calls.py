"""Commands called as a student calls them, but in the tests' own process: to start a Python for each takes longer than all that most
of them do. That they run in processes of their own is for test_commands.py and the commands of README."""

from __future__ import annotations

import io
import sys
from dataclasses import dataclass
from unittest.mock import patch

from companion.cli.main import main

# The command in a process of its own.
PROGRAM = "import sys; from companion.cli.main import main\nif __name__ == '__main__': sys.exit(main())"


@dataclass(frozen=True, slots=True)
class Said:
    stdout: str
    stderr: str


def companion(*arguments: object, code: int = 0, stdin: str = "") -> Said:
    """What the command prints; `code` is what it must end with."""
    typed, out, err = (io.TextIOWrapper(io.BytesIO(text), "utf-8") for text in (stdin.encode(), b"", b""))
    with patch.multiple(sys, stdin=typed, stdout=out, stderr=err, argv=["companion", *map(str, arguments)]):
        try:
            ended = main()
        except SystemExit as end:  # as argparse ends
            ended = end.code or 0
    said = Said(_text_of(out), _text_of(err))
    assert ended == code, said.stdout + said.stderr
    return said


def _text_of(stream: io.TextIOWrapper) -> str:
    """With line ends as text has them."""
    stream.flush()
    return stream.buffer.getvalue().decode("utf-8").replace("\r\n", "\n")
