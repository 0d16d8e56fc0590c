"""The written bars on the stand, at eighty by twenty-four."""

from tui.conftest import FERRY, RecordingLink, drawn, make_paths, screen_text

from companion.store.settings import load_settings
from companion.tui.app import CompanionApp

SIZE = (80, 24)
# From G5, which has a space over the staff, down to shells that need a ledger line: fifteen rows for both hands.
TUNE = """
title = "Low Lanterns"
key = "Bb"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "Cm7 | F7 | Bb6 | G7"
melody = "g8 | f8 | f8 | d8"
"""


def staff_lines(app):
    return sum(line.count("─") > 30 for line in drawn(app, "need").splitlines())


async def test_both_staves_come_with_the_second_hand_and_what_is_said_stays_seen(tmp_path, log):
    """They take the room that is there, but for the beat, now and next, a line of the chart and the foot."""
    paths = make_paths(tmp_path / "student", songs=(TUNE, FERRY))
    app = CompanionApp(paths, load_settings(paths), RecordingLink(), log=log)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"low l", "enter", "v")
        await pilot.pause()
        assert staff_lines(app) == 5, "one staff for the left hand alone"
        await pilot.press("o", "h", "b")
        await pilot.pause()
        assert staff_lines(app) == 10
        assert len(drawn(app, "beat").splitlines()) == 2 and "E♭" in drawn(app, "now")
        foot = "\n".join(app.screen.query_one("#foot").rows_as_text())
        assert "First hear it once" in foot and "First hear it once" in screen_text(app)
        app.notices.unsay()
        await pilot.pause()
        assert "F1 help" in screen_text(app)
