"""The report for the teacher and its plots, in characters and as a page."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest
from practice.passes import NOW, played

from companion.chart.reader import parse_chart, read_chart
from companion.practice.drills.root_position import Known
from companion.practice.planning.progress import SectionStrength, SongProgress
from companion.practice.planning.totals import DayTotal
from companion.reports.html import minutes_svg, report_html, tempo_svg
from companion.reports.plots import minutes_plot, section_bars, tempo_plot
from companion.reports.report import make_report, names_told, report_text
from companion.session.chords.memory import KIND, SHELL_KIND
from companion.session.overview import progress_of
from companion.store.log.practice_log import PracticeLog
from companion.tui.draw.progress import progress_pages

TODAY = NOW.date()


def progress(bests: dict[int, float | None], target_bpm: float = 126.0) -> SongProgress:
    """bests: days ago -> fastest clean pass."""
    days = tuple(
        DayTotal("song", (TODAY - timedelta(days=back)).isoformat(), 600.0 + 60 * back, 8, 4, bpm)
        for back, bpm in sorted(bests.items(), reverse=True)
    )
    return SongProgress("song", "Song", target_bpm, TODAY, (), days, (), (), ())


# --- plots in characters


def test_the_tempo_climbs_towards_the_target():
    lines = tempo_plot(progress({20: 70.0, 10: 90.0, 0: 110.0}), 60, 14).split("\n")
    assert len(lines) == 14 and all(len(line) <= 60 for line in lines)
    marks = [(row, column) for row, line in enumerate(lines[:12]) for column, sign in enumerate(line) if sign == "o"]
    assert len(marks) == 3
    assert [column for _, column in sorted(marks, reverse=True)] == sorted(column for _, column in marks), (
        "later is higher"
    )
    assert marks[0][1] == 58, "today stands at the right edge"
    [target] = [line for line in lines if line.lstrip().startswith("126 │")]
    assert set(target.split("│")[1]) == {"·"}
    assert "28 Feb" in lines[-2] and "20 Mar" in lines[-2] and "126" in lines[-1]


@pytest.mark.parametrize(
    "bests", [{9: 90.0, 0: 100.0}, {3: 126.0, 2: 60.0}, {400: 20.0, 0: 400.0}, {5: None, 4: 90.0, 3: 96.0}]
)
@pytest.mark.parametrize("size", [(20, 4), (80, 24), (33, 7), (200, 60)])
def test_any_plot_fits_its_place(bests, size):
    width, height = size
    lines = tempo_plot(progress(bests), width, height).split("\n")
    assert len(lines) == height and all(len(line) <= width for line in lines)
    assert sum(line.count("o") for line in lines[: height - 2]) == sum(bpm is not None for bpm in bests.values())
    assert "\x1b" not in "".join(lines)


@pytest.mark.parametrize("height", range(4, 34))
def test_a_pass_at_the_target_stands_on_its_line(height):
    for bpm in (60.0, 92.0, 100.0, 126.0, 133.0, 240.0):
        lines = tempo_plot(progress({1: bpm, 0: bpm}, target_bpm=bpm), 60, height).split("\n")
        [line] = [line for line in lines[: height - 2] if line.rstrip().endswith("o")]
        assert line.lstrip().startswith(f"{bpm:.0f} │"), (bpm, height)


def test_nothing_to_plot():
    assert tempo_plot(progress({}), 60, 12) == "" and tempo_plot(progress({0: None}), 60, 12) == ""
    assert tempo_plot(progress({0: 90.0}), 19, 12) == "" and tempo_plot(progress({0: 90.0}), 60, 3) == ""
    assert minutes_plot(progress({}), 60) == ""


def test_minutes_a_day():
    bars, words = minutes_plot(progress({6: 1.0, 2: 1.0, 0: 1.0}), 20).split("\n")
    assert bars == "   16 │█···▆·▅" and words.strip() == "38 minutes in 7 days, 16 at most on one."
    bars, words = minutes_plot(progress({60: 1.0, 6: 1.0, 2: 1.0, 0: 1.0}), 20).split("\n")
    assert bars == "   16 │·····█···▆·▅" and words.strip() == "38 minutes in 12 days, 16 at most on one.", "the latest"


def test_one_day_is_a_sentence_and_no_empty_month():
    day = DayTotal("song", TODAY.isoformat(), 62.0, 1, 1, 82.0)
    one = replace(progress({}), days=(day,))
    assert minutes_plot(one, 60).strip() == "1 minute today, the only day so far."
    lines = tempo_plot(one, 60, 12).split("\n")
    assert lines[0] == "   82 │" + "█" * 33 + "·" * 19, "82 of 126 of the way"
    assert lines[1].strip() == "82 on 20 Mar, the fastest clean pass; target 126"
    assert all(len(line) <= 24 for line in tempo_plot(one, 24, 12).split("\n"))
    page = read(tempo_svg(one) + minutes_svg(one))
    assert page.tags == ["p", "p"] and "1 minute today" in page.text[1]
    two = replace(one, days=(replace(day, day=(TODAY - timedelta(days=1)).isoformat(), seconds=600.0), day))
    assert f"{TODAY.isoformat()}: 1 minute<" in minutes_svg(two)


def test_weeks_without_a_note_are_a_sentence_and_no_empty_months():
    long_ago = progress({70: 90.0, 80: 80.0})
    assert "Nothing in the last 56 days; last on " in minutes_plot(long_ago, 76)


def test_a_target_that_is_passed_is_drawn_whole():
    ahead, passed = progress({20: 70.0, 0: 110.0}), progress({20: 70.0, 10: 126.0, 0: 140.0})
    assert ahead.passed_on == "" and passed.passed_on == "2026-03-10"
    for each, sign, words in ((ahead, "·", "126"), (passed, "─", "126, passed on 10 Mar")):
        lines = tempo_plot(each, 76, 14).split("\n")
        [target] = [line.split("│")[1] for line in lines if line.lstrip().startswith("126 │")]
        assert sign * 10 in target and lines[-1].endswith(f"{sign * 3} target {words}")
    assert "stroke-dasharray" not in tempo_svg(passed) and "stroke-dasharray" in tempo_svg(ahead)


def test_sections_as_bars():
    rows = section_bars([SectionStrength("A", 1.0, 0.8, 5), SectionStrength("Intro", None, None, 0)], 60).split("\n")
    assert rows[0].split() == ["A", "█" * 15 + "·" * 2, "sure", "hand", "100", "%", "memory", "80", "%"]
    assert rows[1].split() == ["Intro", "·" * 17, "not", "played", "yet"]
    assert section_bars([], 60) == ""


# --- the report


class ReadPage(HTMLParser):
    """Checks what html.parser can: every tag closed in turn, and nothing from elsewhere."""

    VOID = frozenset({"meta", "br", "line", "circle", "rect", "polyline"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[str] = []
        self.text: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [
            value for name, value in attrs if name in ("src", "href", "xlink:href", "data", "action", "poster")
        ]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert tag not in self.VOID or tag in ("circle", "rect")
        if tag not in self.VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def read(html: str) -> ReadPage:
    page = ReadPage()
    page.feed(html)
    page.close()
    assert page.open == []
    return page


@pytest.fixture
def song():
    return read_chart(Path(__file__).parents[2] / "songs" / "porridge-and-brass.toml")


@pytest.fixture
def report(paths, song):
    with PracticeLog.open(paths, zone=UTC) as log:
        for number in range(12):
            slips = {4: "late"} if number % 3 == 0 else None
            log.add_pass(
                replace(
                    played(12 - number, song=song, slips=slips, tempo_bpm=60.0 + 2 * number, duration_s=90.0),
                    id=str(number),
                    offset_ms=-12.0,
                    spread_ms=18.0,
                )
            )
        for number in range(2):
            free = played(0.1, song=song, kind="free", tempo_bpm=0.0, told=False)
            log.add_pass(replace(free, id=f"free-{number}"))
        log.add_pass(replace(played(0.05, song=song, told=True), fact="", clean=False, id="silent"))
        return make_report(log, song, NOW)


def test_the_report_in_text(report):
    text = report_text(report)
    assert all(len(line) <= 78 for line in text.splitlines())
    assert text.startswith("Porridge and Brass   F   4/4   20 March 2026\n")
    for words in (
        "The fastest clean pass was at 82; the target is 112.",
        "F7 to Bb7: late by 80 ms, 4 of 28",
        "A bar 5: slipped 4 of 14",
        "Heard from a keyboard: 14; the student's word: 0; nothing said: 1.",
        "12 ms ahead of the beat on average, spread 18 ms.",
        "Lesson: 2 of 7 steps done",
        "[x] 2. the whole form, left hand, in free time, 2 clean passes",
        "[ ] 6. the whole form, left hand, four to the bar, at 84, from memory, 3",
        "2026-03-19        2       1      1             82",
    ):
        assert " ".join(words.split()) in " ".join(text.split()), words


def test_the_page_stands_by_itself(report):
    html = report_html(report)
    page = read(html)
    assert page.links == [] and "http" not in html and "url(" not in html and "@import" not in html
    assert page.tags.count("svg") == 2 + len(report.hands[0].progress.sections)
    assert page.tags.count("circle") == 8, "a mark for each day with a clean pass"
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(page.tags)
    text = " ".join(" ".join(page.text).split())
    for words in (
        "F7 to Bb7: late by 80 ms, 4 of 28",
        "No click yet.",
        "Lesson: 2 of 7 steps done",
        "The last two weeks",
        "5 »Bb7 slips 4 of 14",
        "Not played from memory or at 112 yet. » where the change ends that costs most.",
    ):
        assert words in text
    assert text.index("Bar by bar") < text.index("Costliest changes"), "the chart first, lists after it"


def test_each_hand_has_its_own_part(paths, song):
    with PracticeLog.open(paths, zone=UTC) as log:
        log.add_pass(replace(played(1, song=song, tempo_bpm=80.0), id="left"))
        log.add_pass(replace(played(0.5, song=song, tempo_bpm=60.0, hands="right"), id="right"))
        report = make_report(log, song, NOW)
    assert [hand.words for hand in report.hands] == ["Left hand", "Right hand"]
    text = report_text(report)
    left, right = text.index("LEFT HAND"), text.index("RIGHT HAND")
    assert left < text.index("pass was at 80") < right < text.index("pass was at 60")
    assert text.count("Lesson: ") == 1 and text.count("Less than a minute on 19 Mar") == 1
    page = read(report_html(report))
    assert page.tags.count("h2") == 2 and page.tags.count("svg") == 2 * len(report.hands[0].progress.sections)


def test_a_title_cannot_break_the_page(paths):
    song = parse_chart(
        'title = "<script>\\"&amp;</p>"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C"\n'
        "[[lesson.step]]\nnote = \"<b>loud</b> & 'soft'\"",
        id="odd",
    )
    with PracticeLog.open(paths) as log:
        report = make_report(log, song, datetime(2026, 3, 20, tzinfo=UTC))
    page = read(report_html(report))
    assert "script" not in page.tags and "b" not in page.tags
    assert '<script>"&amp;</p>' in page.text and "<b>loud</b> & 'soft'" in page.text


def test_a_report_on_nothing(paths, song):
    with PracticeLog.in_memory() as log:
        report = make_report(log, song, NOW)
    assert "This song was not played yet." in report_text(report)
    assert "It was not played yet." in read(report_html(report)).text


def test_chords_in_root_position_are_told_once_any_was_found():
    song = read_chart(Path(__file__).parents[2] / "songs" / "ferry-at-half-past-six.toml")
    with PracticeLog.in_memory() as log:
        assert "root position" not in report_text(make_report(log, song, NOW))
        log.put_state("", "0 G 3 5 b7", KIND, Known((2.0, 1.0), 2, 2, "2026-01-05").to_json(), "left")
        report = make_report(log, song, NOW)
    words = "Left hand: 1 of 7 chords played, 1 of them sure; found in 1.5 s as a rule, G7 in 1.5 s."
    assert report.chords == (words,)
    assert words in " ".join(report_text(report).split()) and words in report_html(report)


def test_the_drill_of_names_is_told_apart_from_the_chords_themselves():
    song = read_chart(Path(__file__).parents[2] / "songs" / "ferry-at-half-past-six.toml")
    with PracticeLog.in_memory() as log:
        assert "by name" not in report_text(make_report(log, song, NOW))
        for name, find_s in (("0 G 3 5 b7", 1.5), ("0 F 3 5 b7", 3.5)):
            log.put_state("", name, SHELL_KIND, Known((find_s,), 1, 1, "2026-01-05").to_json(), "left")
        report = make_report(log, song, NOW)
        page = progress_pages([progress_of(log, song, NOW)], 76, 22, names_told(log, song))
    words = "Left hand: 2 of 7 names seen, 0 of them sure; shell struck in 2.5 s as a rule, F7 in 3.5 s."
    assert report.names == (words,) and report.chords == ()
    assert words in " ".join(report_text(report).split()) and words in report_html(report)
    assert words in " ".join(page.split()) and all(len(line) <= 76 for line in page.splitlines())
