"""What was sent when, as a file to measure the steadiness of the beat with."""

from __future__ import annotations

from pathlib import Path

HEADER = "what,channel,note,due_s,sent_s\n"


class Trace:
    """A CSV file with a line for every note sent. Rows wait in memory until `flush`, so that no disk is touched while a
    note is due. due_s and sent_s: perf_counter seconds."""

    def __init__(self, path: str) -> None:
        """Raises OSError where the file cannot be written."""
        self._file = Path(path).open("w", encoding="ascii", newline="\n")
        self._file.write(HEADER)
        self._rows: list[tuple[str, int, int, float, float]] = []

    def add(self, what: str, channel: int, note: int, due_s: float, sent_s: float) -> None:
        """One row, kept until `flush`."""
        self._rows.append((what, channel, note, due_s, sent_s))

    def __len__(self) -> int:
        """Rows not yet written."""
        return len(self._rows)

    def flush(self) -> None:
        """Write what waits."""
        rows, self._rows = self._rows, []
        self._file.writelines(
            f"{what},{channel},{note},{due:.6f},{sent:.6f}\n" for what, channel, note, due, sent in rows
        )
        self._file.flush()

    def close(self) -> None:
        """Write what waits and close the file. Safe to call twice."""
        if not self._file.closed:
            self.flush()
            self._file.close()
