"""`companion practise`: an hour by text alone."""

from __future__ import annotations

import json

import pytest
from cli.calls import companion
from cli.lines_desk import TextDesk
from cli.told_shapes import SHAPES
from desk import right
from session_songs import EIGHT, FOUR

from companion.chart.reader import parse_chart
from companion.cli.lines.telling import HIDDEN_QUALITY
from companion.store.log.practice_log import PracticeLog
from companion.store.own_stand import load_stand


@pytest.fixture
def text(paths, settings):
    """A song on the stand of a student who has no keyboard, or plays on one what is right."""

    def make(chart: str = FOUR, **options) -> TextDesk:
        return TextDesk(paths, settings, log, **options).put(parse_chart(chart, id="a-song"))

    with PracticeLog.in_memory() as log:
        yield make


def of(rows: list[dict], *kinds: str) -> list[dict]:
    return [row for row in rows if row["told"] in kinds]


def words(rows: list[dict], *kinds: str) -> str:
    return "\n".join(row["words"] for row in (of(rows, *kinds) if kinds else rows))


def test_from_memory_by_text_alone_tells_no_chord_that_is_hidden(text) -> None:
    """Until all of it is there: of each bar just so much is told as the round shows, at last only its number."""
    table = text()
    rows = table.type("from memory", "", *["wait", "ran"] * 40)
    assert "From memory: you played the loop twice without a cue." in words(rows, "pass")
    bars = of(rows, "bar")
    assert bars[0]["chords"] == [{"symbol": "F6", "shell": "root-third", "notes": ["F3", "A3"]}]
    last = bars[-4:]  # of the last pass, or of the one that was begun when the word came
    assert [row["chords"] for row in last] == [[], [], [], []]
    assert {words([row]) for row in last} == {f"A {number}, bar {number}." for number in (1, 2, 3, 4)}
    for number in (1, 2, 3, 4):
        shown = [len(json.dumps(row["chords"]).replace(HIDDEN_QUALITY, "")) for row in bars if row["number"] == number]
        assert shown == sorted(shown, reverse=True), "round by round no more than before"
    assert words(of(rows, "untold")[:1]).endswith('or "slipped" and the bars.')


def test_a_slip_brings_back_the_bar_that_was_named(text) -> None:
    table = text()
    rows = table.type("from memory", "start", *["wait", "ran"] * 5, "wait", "slipped A 3", "wait", "stop")
    slipped = of(rows, "pass")[-1]
    assert [(each["section"], each["bar"], each["number"]) for each in slipped["slipped"]] == [("A", 3, 3)]
    assert "Slipped: A 3." in slipped["words"] and not slipped["clean"]
    before, after = [len(json.dumps(row["chords"])) for row in of(rows, "bar") if row["number"] == 3][-2:]
    assert after > before


def test_the_music_goes_on_and_a_slip_is_told_by_one_key(text) -> None:
    """Nothing moves until there is a word; then one is for all that wait."""
    table = text()
    rows = table.type("from memory", "", "wait 5 s", "x", "wait 3 passes", "")
    assert [row["count"] for row in of(rows, "untold")] == [1, 2, 3] and not of(rows, "asks", "fault")
    passes = of(rows, "pass")
    assert [row["fact"] for row in passes] == ["ran"], "they are told of together, and the last one's words"
    assert [(record.fact, record.slipped) for record in table.sitting.log.passes("a-song")] == [
        ("slipped", (1,)),
        *[("ran", ())] * 2,
    ]


def test_bars_may_be_named_while_the_pass_sounds(text) -> None:
    table = text()
    table.type("from memory", "", "wait 2 s", "slipped 1-2", "wait", "ran")
    assert [(each.fact, each.slipped) for each in table.sitting.log.passes("a-song")] == [("slipped", (0, 1))]


def test_after_listening_it_says_what_starts_where_one_types(text) -> None:
    rows = text().type("listen", "", "wait end")
    assert "Heard to the end. Now you play: an empty line starts it." in words(rows, "said")


def test_after_three_rounds_without_a_word_it_stops_and_the_word_still_counts(text) -> None:
    """A round is sixteen bars: twelve passes of four. Lines that only wait are words too."""
    table = text()
    rows = table.type("from memory", "", "wait end", "ran")
    assert len(of(rows, "bar")) == 48 and of(rows, "asks")
    assert "Nobody said how it went, so the music stopped." in words(rows, "said")
    assert [record.fact for record in table.sitting.log.passes("a-song")] == ["ran"] * 12
    assert "untold" not in {state.kind for state in table.sitting.log.states()}


def test_with_a_keyboard_it_listens_as_the_app_does(text) -> None:
    table = text(hands=right, keyboard=True)
    rows = table.type("up to tempo", "start", "wait 6 passes", "stop")
    assert not of(rows, "asks")
    passes = of(rows, "pass")
    assert len(passes) >= 6 and all(row["heard"] and row["right"] == 1.0 for row in passes)
    tempos = [row["tempo"] for row in passes]
    assert tempos == sorted(tempos) and tempos[-1] > tempos[0]
    assert "chords right (100 %)" in words(passes[:1])


def test_what_was_done_is_kept_as_in_the_app(text, paths) -> None:
    """The log, where the drill stands, and how the song was left."""
    table = text(EIGHT)
    table.type(
        "loop A", "tempo 96", "from memory", "", *["wait", "ran"] * 3, "wait", "broke off", "wait 1 second", "stop"
    )
    table.sitting.student.close()
    records = table.sitting.log.passes("a-song")
    assert [record.kind for record in records] == ["fade"] * 5 and {record.source for record in records} == {"told"}
    assert [record.fact for record in records] == [*["ran"] * 4, "broke off"], "that which sounded"
    assert table.sitting.log.state("a-song", "0-3", "fade", "left")
    left = load_stand(paths, "a-song")
    assert (left.tempo_bpm, left.loop) == (96, "A")


def test_lines_do_what_keys_do(text) -> None:
    table = text(EIGHT)
    rows = table.type(
        "5-8", "slower", "faster 10", "half", "double", "key Eb", "bass walking", "click bar", "undo", "loop whole"
    )
    stand = table.sitting.conductor.stand
    assert stand.key.name == "Eb" and stand.bass == "walking" and stand.click.mode != "bar"
    assert [row["bars"] for row in of(rows, "loop")] == [[5, 6, 7, 8], [1, 2, 3, 4, 5, 6, 7, 8]]
    assert [row["tempo"] for row in of(rows, "tempo")] == [119, 129, 64.5, 129]
    assert not of(rows, "fault")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("strat", "did you mean start?"),
        ("loop Q", "is not a loop of this song: expected a section (A) or bars from 1 to 4"),
        ("tempo fast", "expected beats a minute from 20 to 400"),
        ("ran", "No pass waits for an answer."),
        ("way sideways", "is no way of practising"),
        ("free", "needs a keyboard"),
        ("hands both", "has no melody"),
        ("key H", "H"),
        ("bass loud", "expected one of roots"),
        ("volume bass 140", "0 to 100"),
        ("shell A.9.1", "no chord is there"),
        ("shell A.1.1 root-seventh", "has no seventh"),
        ("start B 1", "no bar of this loop"),
        ("today 99", "no item 99"),
        ("wait for it", "expected such as"),
        ("undo", "no change to take back"),
        ("done", "Which item is done?"),
        ("done soon", "expected the number of an item"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence_and_nothing_breaks(text, line, says) -> None:
    rows = text().type(line, "start", "wait 1 s", "stop")
    assert says in rows[0]["words"], rows[0]
    assert words(rows[-1:]) == "Stopped."


def test_a_shell_of_ones_own_is_kept_and_taken_back(text, paths) -> None:
    from companion.store.pins import load_pins

    table = text()
    rows = table.type("shell A.1.1", "shell A.1.1 root-sixth")
    assert {"root-fifth", "root-sixth"} <= {row["shell"] for row in of(rows, "shell")}
    assert load_pins(paths, "a-song")[("A", 1, 1)].kind == "root-sixth"
    assert table.sitting.conductor.stand.choices_at(0)[0][1].shell.kind == "root-sixth"
    table.type("undo")
    assert not load_pins(paths, "a-song")


def test_everything_that_is_told_has_its_shape_which_the_help_names(text) -> None:
    """`TextDesk` holds each row to it."""
    table = text(EIGHT)
    rows = table.type(
        *(
            "help",
            "song",
            "today",
            "today 1",
            "done",
            "chart",
            "why A.1.1",
            "shell A.1.1",
            "volume bass 10",
            "tap",
            "tell ahead",
        ),
        *(
            "from memory",
            "start",
            "wait 2 passes",
            "look 3",
            "stop",
            "keys fourths",
            "play along",
            "start",
            "wait 3 passes",
            "stop",
        ),
    )
    told = {row["told"] for row in rows}
    assert told >= {
        "help",
        "song",
        "item",
        "chart",
        "shells",
        "shell",
        "volume",
        "drill",
        "begins",
        "bar",
        "pass",
        "key",
    }
    words = companion("practise", "--help").stdout
    names = {name for kind, names in SHAPES.items() for name in (*names, kind)} | {"told", "words", "verdict", "symbol"}
    assert not [name for name in names if name not in words]


def test_names_are_spoken_where_that_is_wanted(text) -> None:
    rows = text(names="spoken").type("chart")
    assert words(rows, "chart").splitlines()[2] == "A 3, bar 3: G minor seven, root-third G B flat."
