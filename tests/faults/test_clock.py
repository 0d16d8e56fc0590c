"""The clock of the day jumps, in the middle of a pass and between two evenings: music and marks know nothing of it, what is kept stays
sensible. (Computers whose battery is empty wake up in 1970; a wrong date is soon set to 9999.)"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from faults.disk_desk import break_off, go_on, hanging, practise
from session_songs import FOUR
from shipped import spread
from tui.conftest import RecordingLink, make_paths
from tui.mill import MILL, play_pass, put_mill
from tui.patience import exact_pauses  # noqa: F401  a fixture

from companion.chart.reader import parse_chart
from companion.cli.log import as_text
from companion.cli.today import as_text as plan_text
from companion.practice.drills import recall
from companion.practice.drills.rest import REST_MIN
from companion.reports.html import report_html
from companion.reports.report import make_report, report_text
from companion.session import overview, practice
from companion.session.minutes import Minutes
from companion.session.overview import progress_of, todays_plan
from companion.session.wall_clock import within_calendar
from companion.store.log.patient_log import PatientLog
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp
from companion.tui.screens.today import TodayScreen

SONG = parse_chart(FOUR, id="a-song")
BERLIN = ZoneInfo("Europe/Berlin")
EVENING = datetime(2026, 3, 28, 22, 0, tzinfo=UTC)
# Changes of the clock: tz database, Europe/Berlin, 29 March 2026 01:00 UTC and 25 October 2026 01:00 UTC.
SPRING, AUTUMN = datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 10, 25, 1, tzinfo=UTC)
LAST = datetime(9999, 12, 31, 23, 59, 50, tzinfo=UTC)
JUMPS = {
    "a day on": (EVENING, EVENING + timedelta(days=1)),
    "a year back": (EVENING, EVENING - timedelta(days=365)),
    "an hour on, summer time": (SPRING - timedelta(seconds=3), SPRING + timedelta(seconds=1)),
    "an hour back, winter time": (AUTUMN - timedelta(seconds=3), AUTUMN + timedelta(seconds=1)),
    "over midnight": (datetime(2026, 3, 28, 22, 59, 57, tzinfo=UTC), datetime(2026, 3, 28, 23, 0, 1, tzinfo=UTC)),
    "to 1970": (EVENING, datetime(1970, 1, 1, tzinfo=UTC)),
    "from 1970 to today": (datetime(1970, 1, 1, tzinfo=UTC), EVENING),
    "to the end of the calendar": (EVENING, LAST),
    "back from the end of the calendar": (LAST, EVENING),
    "to its beginning": (EVENING, datetime(1, 1, 1, 0, 0, 1, tzinfo=UTC)),
}


class Wall:
    """The clock of the day."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now


@pytest.mark.parametrize("jump", spread([*JUMPS], 2))
def test_a_jump_in_the_middle_of_a_pass(paths, settings, jump):
    before, after = JUMPS[jump]
    wall = Wall(before)
    with PatientLog.open(paths, zone=BERLIN) as log:
        desk = practise(log, settings, "fade", now=wall)
        go_on(desk, 2)
        bar = len(desk.lines)
        desk.run(until=lambda: len(desk.lines) == bar + 2)
        wall.now = after
        # From memory to the end, so that each section comes into recall.
        desk.run(60.0, until=lambda: desk.practice.drill.finished or desk.turns > 30)
        assert desk.practice.drill.finished
        break_off(desk)
        assert desk.is_gapless() and not hanging(desk)
        passes = list(log.each_pass())
        assert len(passes) in (desk.turns - 1, desk.turns) and len(passes) > 5
        assert all(record.share_right == 1.0 and record.duration_s == pytest.approx(4.0) for record in passes)
        assert {record.started_at[:10] for record in passes} <= {
            within_calendar(moment).isoformat()[:10] for moment in (before, after)
        }
        assert log.messages == [] and desk.practice.say == ""
        for now in (before, after, EVENING):
            check_pages(log, now)
    with PracticeLog.open(paths, zone=BERLIN) as log:
        assert log.messages == [] and log.count() == len(passes)


@pytest.mark.parametrize("jump", spread([*JUMPS], 2, 1))
def test_a_jump_between_two_evenings(paths, settings, jump):
    before, after = JUMPS[jump]
    for evening, start in enumerate((before, after, EVENING), 1):
        with PatientLog.open(paths, zone=BERLIN) as log:
            desk = practise(log, settings, "fade", now=Wall(start))
            desk.run(200.0, until=lambda desk=desk: desk.practice.drill.finished)
            break_off(desk)
            check_pages(log, start)
            assert log.messages == []
            cards = [recall.from_json(state.value) for state in log.states("recall")]
            likely = [recall.chance(card, within_calendar(start)) for card in cards]
            assert len(cards) == 1 and all(0 <= each <= 1 for each in likely)
            days = {day.day: day.passes for day in log.day_totals()}
            assert sum(days.values()) == log.count() and len(days) <= evening


def check_pages(log, now: datetime) -> None:
    """Today, Progress, the report and the log as text: they are made, and say nothing that cannot be."""
    here = within_calendar(now).astimezone(BERLIN)
    plan = todays_plan(log, [SONG], 20, here, afresh=True)
    assert plan.day == here.date().isoformat() and plan.items and all(item.minutes > 0 for item in plan.items)
    progress = progress_of(log, SONG, here)
    for section in progress.sections:
        for share in (section.hand, section.memory):
            assert share is None or 0 <= share <= 1
    report = make_report(log, SONG, here)
    assert report_html(report)
    for words in (plan_text(plan), report_text(report), as_text(log, None), "\n".join(progress.news)):
        assert not re.search(r"(?<![\w.])-\d|\bnan\b|\binf\b", words), words


async def test_the_app_through_a_year_back_and_the_end_of_the_calendar(tmp_path, monkeypatch):
    wall = Wall(EVENING)

    class Jumping(datetime):
        @classmethod
        def now(cls, tz=None):
            return wall.now.astimezone(tz) if tz else wall.now.astimezone().replace(tzinfo=None)

    for module in (practice, overview):
        monkeypatch.setattr(module, "datetime", Jumping)
    paths = make_paths(tmp_path / "student", songs=(MILL,))
    link = RecordingLink()
    app = CompanionApp(paths, load_settings(paths), link)
    async with app.run_test(size=(80, 24)) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        for turn, now in enumerate((EVENING - timedelta(days=365), LAST, EVENING + timedelta(days=1)), 1):
            wall.now = now
            end_s = await play_pass(pilot, link, start_s=end_s, turn=turn)
            assert app.stand_screen.view.playing
        await pilot.press("space", "f3")
        await pilot.pause()
        assert isinstance(app.screen, TodayScreen) and app.screen.plan.items
        await pilot.press("escape")
        app.show_progress(app.stand_screen.stand.original)
        await pilot.pause()
        await pilot.press("escape")
    with PracticeLog.open(paths) as log:
        assert log.count() == 4 and app.parting == ""


def test_a_rest_is_offered_after_what_was_played_whatever_the_clock_says():
    minutes = Minutes()
    for start in (EVENING, EVENING - timedelta(days=365), EVENING - timedelta(days=365)):
        minutes.count(9 * 60.0, start + timedelta(minutes=9))
    assert minutes.rest_is_due, "time that ran backwards is no rest"
    minutes.rested()
    minutes.count(24 * 60.0, EVENING)
    minutes.count(2 * 60.0, EVENING + timedelta(minutes=REST_MIN + 3))
    assert not minutes.rest_is_due, "a pause is"
    for end in (datetime(1, 1, 1, tzinfo=UTC), datetime.max.replace(tzinfo=UTC)):
        minutes.count(26 * 60.0, within_calendar(end))
    assert minutes.rest_is_due
