"""Where a song stands, from what was played."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practice.passes import NOW, SONG, played
from strategies import pass_records

from companion.practice.drills.fading import FULL, Cue
from companion.practice.planning.progress import (
    NOT_PLAYED,
    STRENGTH_WORDS,
    SectionMemory,
    news,
    section_strengths,
    song_progress,
)
from companion.practice.planning.totals import (
    BY_HEART,
    FROM_SYMBOLS,
    SHOWN,
    DayTotal,
    best_of,
    by_heart,
    day_of,
    day_totals,
    tallies,
)

TODAY = NOW.date()
A, B = range(4), range(4, 8)


def progress(passes, memories=()):
    return song_progress(SONG, passes, day_totals(passes, UTC), memories, TODAY, UTC)


# --- sums


def test_days_and_ways_counted_by_hand():
    passes = [
        played(1, tempo_bpm=80.0),
        played(1.1, tempo_bpm=80.4, slips={3: "late"}),
        played(0, tempo_bpm=120.0, kind="free", cues=0.0),
        played(0, A, tempo_bpm=91.0),
    ]
    assert day_totals(passes, UTC) == (
        DayTotal("lantern-street", "2026-03-19", 60.0, 2, 1, 80.0),
        DayTotal("lantern-street", "2026-03-20", 60.0, 2, 2, 91.0),
    )
    kept = tallies(passes)
    assert [(tally.way.tempo_bpm, tally.way.by_heart, tally.passes, tally.clean) for tally in kept] == [
        (80, SHOWN, 2, 1),
        (0, BY_HEART, 1, 1),
        (91, SHOWN, 1, 1),
    ]


def test_how_little_was_shown():
    assert by_heart(played(kind="symbols", cues=Cue.SYMBOL / FULL)) == FROM_SYMBOLS
    assert by_heart(played(kind="symbols", cues=0.625)) == SHOWN, "one bar of eight told its notes"
    assert by_heart(played(kind="fade", cues=0.6)) == SHOWN, "some bars may tell all"


def test_a_probe_at_the_target_proves_no_tempo():
    passes = [played(1, tempo_bpm=80.0), played(1, tempo_bpm=160.0, kind="climb+probe")]
    assert [total.best_bpm for total in day_totals(passes, UTC)] == [80.0]


def test_the_day_of_a_moment_is_the_students_own():
    moment = "2026-01-05T23:30:00+00:00"
    assert day_of(moment, UTC) == "2026-01-05"
    assert day_of(moment, timezone(timedelta(hours=1))) == "2026-01-06"


def test_what_a_pass_proves():
    assert best_of(played(tempo_bpm=84.0)) == 84.0
    assert best_of(played(tempo_bpm=84.0, slips={1: "late"})) is None
    assert best_of(played(tempo_bpm=0.0, kind="free")) is None
    assert best_of(played(tempo_bpm=120.0, kind="climb+probe")) is None, "two bars at the target"


# --- sections


def test_sections_by_what_went_right():
    passes = [played(2, slips={4: "late", 5: "wrong"}), played(1, A)]
    a, b = section_strengths(SONG, passes)
    assert (a.section, a.hand, a.words, a.passes) == ("A", 1.0, "sure", 2)
    assert (b.section, b.hand, b.words, b.passes) == ("B", 0.5, "patchy", 1), "two of its four chords"


def test_later_passes_weigh_more_and_old_ones_nothing():
    bad = dict.fromkeys(A, "wrong")
    [better, _] = section_strengths(SONG, [played(2, A, bad), played(1, A)])
    [worse, _] = section_strengths(SONG, [played(2, A), played(1, A, bad)])
    assert better.hand == pytest.approx(1 / 1.8) and worse.hand == pytest.approx(0.8 / 1.8)
    [now, _] = section_strengths(SONG, [played(9, A, bad), *(played(day, A) for day in (5, 4, 3, 2, 1))])
    assert now.hand == 1.0


def test_the_students_word_counts_where_nothing_was_heard():
    told = played(1, slips={4: "wrong"}, told=True)
    a, b = section_strengths(SONG, [told])
    assert (a.hand, b.hand) == (1.0, 0.75), "the bar that was named lies in B"
    unnamed = replace(told, slipped=(), share_right=0.7, clean=False)
    assert [section.hand for section in section_strengths(SONG, [unnamed])] == [0.7, 0.7]
    silent = replace(told, fact="")
    assert progress([silent]).sections[0].words == NOT_PLAYED, "played along and nothing said"


def test_memory_and_hand_together():
    memories = [SectionMemory(SONG.id, "A", NOW, 0.6), SectionMemory("another", "B", NOW, 0.1)]
    a, b = section_strengths(SONG, [played(1)], memories)
    assert (a.hand, a.memory, a.strength) == (1.0, 0.6, 0.8)
    assert (b.memory, b.strength) == (None, 1.0)
    assert section_strengths(SONG, [])[0].words == NOT_PLAYED
    assert STRENGTH_WORDS[-1][0] == 0.0


def test_a_shortened_chart_stops_nothing():
    old = played(1, range(12), {11: "late", 3: "late"})
    short = replace(SONG, form=("A", "B"))
    found = song_progress(short, [old], (), (), TODAY)
    assert [bar.index for bar in found.weak_bars] == [3]


# --- changes


def test_the_costliest_changes_and_bars():
    passes = [played(day, slips={2: "late"}) for day in (3, 2, 1)] + [played(0, slips={9: "missing"})]
    found = progress(passes)
    # The second A is bars 9 to 12 of the chorus: D7 to Gm7 comes in both.
    assert [change.words for change in found.changes] == [
        "D7 to Gm7: late by 80 ms, 3 of 8",
        "F6 to D7: missing, 1 of 8",
    ]
    assert [bar.words for bar in found.weak_bars] == ["A bar 3: slipped 3 of 8", "A bar 2: slipped 1 of 8"]
    assert found.weak_bars[0].index == 2


# --- what changed


def test_news_of_a_week():
    before = [
        played(day, slips={2: "late", 5: "wrong", 10: "late"}, tempo_bpm=70.0, duration_s=300.0)
        for day in (12, 11, 10, 9)
    ]
    before.append(played(8, A, tempo_bpm=72.0, duration_s=300.0))
    after = [played(day, tempo_bpm=90.0, duration_s=400.0, cues=0.0) for day in (3, 2, 1, 0.5, 0)]
    assert list(progress(before + after).news) == [
        "33 minutes in the last seven days, 8 more than in the seven days before.",
        "The fastest clean pass is now at 90; before this week it was 72.",
        # Four passes with 6 of 8 chords right and then one with all, each weighing 0.8 of the one after it.
        "Section A is surer: 100 % right, 82 % a week ago.",
        "Section B is surer: 100 % right, 75 % a week ago.",
        "Section A went from memory 5 times.",
        "Section B went from memory 5 times.",
        "D7 to Gm7 has settled: it slipped 0 of 10.",
        "A7 to D7 has settled: it slipped 0 of 5.",
    ]


def test_news_where_there_is_little():
    assert progress([]).news == ("This song was not played yet.",)
    assert progress([played(20)]).news == ("It was not played in the last seven days.",)
    first = progress([played(0, B, duration_s=60.0)]).news
    assert first == (
        "1 minute in the last seven days.",
        "The fastest clean pass is now at 80.",
        "Section B is new: 100 % right.",
    )


def test_no_section_is_called_new_where_its_past_is_only_not_looked_at():
    days = day_totals([played(day, duration_s=300.0) for day in (30, 1)], UTC)
    assert news(SONG, [played(1)], days, TODAY) == ("5 minutes in the last seven days.",)
    assert "Section A is new: 100 % right." in news(SONG, [played(1)], days[1:], TODAY)


def test_a_week_has_seven_days():
    days = [DayTotal(SONG.id, (TODAY - timedelta(days=back)).isoformat(), 60.0, 1, 0, None) for back in range(20)]
    assert news(SONG, [], days, TODAY)[0] == "7 minutes in the last seven days, as many as in the seven days before."


@given(st.lists(pass_records(song_id=SONG.id, loop=tuple(range(4))), max_size=20, unique_by=lambda record: record.id))
def test_any_passes_give_a_picture(records):
    records.sort(key=lambda record: record.started_at)
    found = song_progress(SONG, records, day_totals(records, UTC), (), date(2026, 1, 20))
    assert [section.section for section in found.sections] == ["A", "B"]
    assert all(section.hand is None or 0 <= section.hand <= 1 for section in found.sections)
    assert found.minutes == pytest.approx(sum(record.duration_s for record in records) / 60)
    bests = [record.tempo_bpm for record in records if record.clean and "free" not in record.kind]
    assert found.best_bpm == (max(bests) if bests else None)
    assert all(sentence.endswith(".") for sentence in found.news)
