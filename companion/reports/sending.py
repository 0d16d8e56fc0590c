"""A song on its way to the teacher or back, with all that its student has of it: what `companion send` writes, and the app."""

from __future__ import annotations

from datetime import datetime

from companion.chart.model import Song
from companion.reports.envelope import pack
from companion.reports.html import report_html
from companion.reports.report import make_report
from companion.reports.shells import shells_text
from companion.session.own import keys_learned, own_stand
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings

ENDING = ".zip"


def song_to_send(song: Song, paths: Paths, settings: Settings, log: PracticeLog, now: datetime) -> bytes:
    """The zip file of `reports/envelope.py`. song: in its own key, as its chart has it; now: aware. Raises LogError, SettingsError where what the student keeps
    of the song is damaged, and ShellError."""
    report = make_report(log, song, now)
    stand = own_stand(song, settings, paths, keys_learned(log, song))
    return pack(song, paths, shells_text(stand) + "\n", report_html(report))
