"""What is known of a song bar by bar, and the chart that shows it."""

from __future__ import annotations

from datetime import UTC

import pytest
from practice.passes import NOW, SONG, chords_of, played

from companion.practice.planning.bars import chart_progress
from companion.practice.planning.progress import song_progress
from companion.practice.planning.totals import day_totals
from companion.reports.chart import chart_plot


def progress(passes):
    return song_progress(SONG, passes, day_totals(passes, UTC), (), NOW.date(), UTC)


def at(passes):
    return {(bar.section, bar.bar): bar for bar in progress(passes).chart}


def test_every_bar_of_every_section_once_with_its_chords():
    chart = progress([]).chart
    assert [(bar.section, bar.bar, bar.symbols) for bar in chart] == [
        ("A", 1, ("F6",)),
        ("A", 2, ("D7",)),
        ("A", 3, ("Gm7",)),
        ("A", 4, ("C7",)),
        ("B", 1, ("A7",)),
        ("B", 2, ("D7",)),
        ("B", 3, ("G7",)),
        ("B", 4, ("C7",)),
    ]
    assert all(bar.memory is bar.tempo is bar.costly is None and bar.tries == 0 for bar in chart)


def test_memory_and_tempo_are_told_apart():
    slow_by_heart = played(3, slips={1: "late"}, cues=0.0, kind="fade", tempo_bpm=80.0)
    at_target = played(2, slips={9: "late", 5: "wrong"}, tempo_bpm=120.0)
    bars = at([slow_by_heart, at_target])
    # A bar 2 stands at 1 and at 9: one of its two right in either pass.
    assert (bars["A", 2].memory, bars["A", 2].tempo) == (0.5, 0.5)
    assert (bars["A", 1].memory, bars["A", 1].tempo) == (1.0, 1.0)
    assert (bars["B", 2].memory, bars["B", 2].tempo) == (1.0, 0.0)
    assert (bars["A", 2].slips, bars["A", 2].tries) == (2, 4) and (bars["B", 2].slips, bars["B", 2].tries) == (1, 2)


@pytest.mark.parametrize(
    ("fields", "known"),
    [
        ({"tempo_bpm": 119.0}, False),
        ({"tempo_bpm": 119.6}, True),
        ({"tempo_bpm": 140.0}, True),
        ({"tempo_bpm": 120.0, "kind": "free"}, False),
        ({"tempo_bpm": 120.0, "kind": "climb+probe"}, False),
    ],
)
def test_what_counts_as_at_tempo(fields, known):
    assert (at([played(1, **fields)])["A", 1].tempo is not None) is known


def test_the_latest_passes_weigh_most_by_hand():
    """Of three passes by heart the first and second slipped: weights 0.64, 0.8 and 1."""
    passes = [played(3 - n, range(4, 8), {4: "wrong"} if n < 2 else None, cues=0.0) for n in range(3)]
    assert at(passes)["B", 1].memory == pytest.approx(1 / 2.44)


def test_the_students_word_counts_by_bar():
    told = played(1, slips={2: "x"}, told=True, cues=0.0)
    bars = at([told])
    assert (bars["A", 3].memory, bars["A", 3].slips, bars["A", 4].memory) == (0.5, 1, 1.0)
    silent = played(1, told=True, fact="", cues=0.0)
    assert at([silent])["A", 3].memory is None


def test_the_costliest_change_is_marked_where_it_ends():
    """D7 to Gm7 ends in the third bar of A alone; D7 to G7 in B is another change."""
    bars = at([played(2, slips={2: "late", 10: "late"}), played(1, slips={2: "late", 6: "late"})])
    assert [place for place, bar in bars.items() if bar.costly is not None] == [("A", 3)]
    assert bars["A", 3].costly == 0


def test_a_change_of_another_key_stands_nowhere():
    moved = tuple(row | {"symbol": f"{row['symbol']}sus"} for row in chords_of(SONG, range(12), {2: "late"}))
    assert all(bar.costly is None for bar in progress([played(1, slips={2: "late"}, chords=moved)]).chart)


def test_a_chart_that_was_shortened_since_breaks_nothing():
    record = played(1, slips={11: "late"}, cues=0.0)
    chart = chart_progress(SONG.unroll()[:4], [record], [record], 120.0)
    assert [(bar.slips, bar.tries) for bar in chart] == [(0, 1)] * 4


def test_the_chart_as_it_is_drawn():
    passes = [played(2, slips={2: "late", 10: "late"}, cues=0.0), played(1, slips={6: "late"})]
    assert chart_plot(progress(passes), 76).split("\n") == [
        "A       1 F6             2 D7             3 »Gm7           4 C7",
        " memory █████ 100 %      █████ 100 %      ····· 0 %        █████ 100 %",
        " slips  none             none             2 of 4           none",
        "B       1 A7             2 D7             3 G7             4 C7",
        " memory █████ 100 %      █████ 100 %      █████ 100 %      █████ 100 %",
        " slips  none             none             1 of 2           none",
        "  memory: right lately, without any cues; slips: of the latest passes.",
        "  Not played at 120 yet.",
        "  » where the change ends that costs most.",
    ]
    assert chart_plot(progress([]), 76) == ""


@pytest.mark.parametrize("width", [20, 40, 76, 120, 200])
def test_the_chart_fits_any_width(width):
    passes = [played(2, slips={2: "late"}, cues=0.0, tempo_bpm=120.0)]
    lines = chart_plot(progress(passes), width).split("\n")
    assert all(len(line) <= width for line in lines)
    assert sum("%" in line for line in lines) >= 4
