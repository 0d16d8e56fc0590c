"""The process that reads MusicXML: the file's bytes on its input, one line of JSON on its output.

It limits its own memory and processor time first, where the system lets it, and says in one sentence why a file cannot
be read; whatever else goes wrong in the library is one such sentence too.
"""

from __future__ import annotations

import contextlib
import json
import sys
import warnings

_MOST_BYTES = 2_000_000_000  # music21 and what it imports take 200 MB, a long lead sheet 100 more
_MOST_CPU_S = 90


def main() -> int:
    """Read what comes in and answer. Returns the exit code, always 0: faults are part of the answer."""
    _limit()
    with contextlib.redirect_stdout(sys.stderr), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # music21 warns of much that is no matter for a chart
        try:
            answer = _answer(sys.stdin.buffer.read(), sys.argv[1])
        except (MemoryError, RecursionError):
            answer = {"fault": "reading it took more memory than a lead sheet needs; expected one tune"}
    sys.stdout.write("\n" + json.dumps(answer))
    return 0


def _limit() -> None:
    try:
        import resource  # not on Windows
    except ImportError:
        return
    for what, most in ((resource.RLIMIT_DATA, _MOST_BYTES), (resource.RLIMIT_CPU, _MOST_CPU_S)):
        with contextlib.suppress(ValueError, OSError):  # a system may know a limit and not let it be set
            _, hard = resource.getrlimit(what)
            most = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(what, (most, hard))


def _answer(data: bytes, name: str) -> dict[str, object]:
    from companion.chart.writer import write_chart
    from companion.errors import CompanionError
    from companion.importing.compose import compose
    from companion.importing.guard import scan, xml_of

    try:
        xml = xml_of(data)
        scanned = scan(xml)
        if scanned.is_timewise:
            from companion.importing.timewise import to_partwise

            xml = to_partwise(xml)
            scanned = scan(xml)
        try:
            import music21  # noqa: F401
        except ModuleNotFoundError:
            return {"fault": "no music21"}
        from companion.importing.musicxml import read_musicxml

        sheet = read_musicxml(xml, scanned)
        song = compose(sheet, name)
    except CompanionError as error:
        return {"fault": str(error)}
    except (MemoryError, RecursionError):
        raise
    except Exception as error:  # a library may raise anything at a file that breaks the standard
        words = " ".join(str(error).split())[:200] or type(error).__name__
        return {"fault": f"the library that reads MusicXML cannot follow it ({words}); expected a lead sheet"}
    return {"chart": write_chart(song), "id": song.id, "notes": list(sheet.remarks)}


if __name__ == "__main__":
    sys.exit(main())
