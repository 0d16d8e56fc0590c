"""Chords in root position with simulated keys, on the real player and a clock turned by hand."""

from __future__ import annotations

import heapq
import itertools
import random
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from desk import put
from recording_output import RecordingOutput
from session_songs import EIGHT, FOUR

from companion.errors import LogError
from companion.practice.drills.root_position import Known
from companion.session.minutes import Minutes
from companion.session.playback import Playback
from companion.session.root_memory import (
    KIND,
    SETUP_KIND,
    keep_setup,
    known_chords,
    known_of_song,
    known_sentences,
    last_setup,
    new_chords,
)
from companion.session.root_position import NO_CHORD, RootPosition
from companion.session.root_rounds import Setup, items_of, timed_round
from companion.session.root_waiting import REVEAL_S
from companion.sound.messages import KeyboardGone, Load, NoteIn, Play, Sample, SetTempo, Started, Stop, default_voices
from companion.sound.player import Player

BEGAN = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
WALTZ = """title = "Three"
key = "F"
meter = "3/4"
tempo = 90
[section.A]
bars = "F6 | Gm7 C7:1 | F6 | N.C."
"""


class Table:
    """A student at a keyboard. At second 100 it begins."""

    def __init__(self, stand, setup: Setup, log, seed: int = 1, **options) -> None:
        self.now_s, self.sent = 100.0, []
        self.sound = Player(RecordingOutput(lambda: self.now_s, 0.0), default_voices(), clock=lambda: self.now_s)
        self.roots = RootPosition(
            stand,
            setup,
            log,
            Playback(self),
            clock=lambda: self.now_s,
            now=lambda: BEGAN + timedelta(seconds=self.now_s),
            chance=random.Random(seed).random,
            **options,
        )
        self._presses, self._numbers = [], itertools.count()

    def send(self, message: object) -> None:
        self.sent.append(message)
        self.sound.handle(message)

    # --- waiting: the clock goes by hand

    def wait(self, seconds: float) -> None:
        self.now_s += seconds
        if self.roots.wake_s is not None and self.roots.wake_s <= self.now_s:
            self.roots.tick(self.now_s)

    def down(self, *notes: int, apart_s: float = 0.0) -> None:
        for note in notes:
            self.roots.hear(NoteIn(self.now_s, note, 70, "keys"))
            self.now_s += apart_s

    def up(self, *notes: int) -> None:
        for note in notes:
            self.roots.hear(NoteIn(self.now_s, note, 0, "keys"))

    def find(self, after_s: float = 1.0, *wrong: int) -> str:
        """Strike what is waited for and let go, wrong keys before it; the symbol that was found."""
        self.wait(after_s)
        self.down(*wrong)
        self.up(*wrong)
        item = self.roots.shown.now
        for step in item.steps:
            self.down(*step)
            self.up(*step)
            self.now_s += 0.2
        return item.symbol

    # --- with the click: the player's own time

    def press(self, at_s: float, *notes: int) -> None:
        for note in notes:
            heapq.heappush(self._presses, (at_s, next(self._numbers), NoteIn(at_s, note, 70, "keys")))
            heapq.heappush(self._presses, (at_s + 0.3, next(self._numbers), NoteIn(at_s + 0.3, note, 0, "keys")))

    def run(self) -> None:
        while self.roots.playing:
            next_s = min(
                self.now_s + max(0.0, self.sound.gap_s()),
                self.now_s + max(0.0, self.sound.report_gap_s()),
                self._presses[0][0] if self._presses else float("inf"),
                max(self.roots.wake_s or float("inf"), self.now_s),
            )
            assert next_s < 1e6
            self.now_s = next_s
            self.sound.advance()
            self.sound.prepare()
            while self._presses and self._presses[0][0] <= self.now_s:
                self.roots.hear(heapq.heappop(self._presses)[2])
            for report in list(self.sound.take_reports()):
                self.roots.hear(report)
            if (self.roots.wake_s or float("inf")) <= self.now_s:
                self.roots.tick(self.now_s)

    def asked(self, kind: type) -> list:
        return [message for message in self.sent if isinstance(message, kind)]


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_the_songs_own_chords_come_in_order_and_what_each_took_is_kept(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert (table.roots.shown.total, table.roots.shown.after.symbol) == (4, "D7")
    assert [table.find(after_s) for after_s in (1.0, 1.2, 0.8, 1.1)] == ["F6", "D7", "Gm7", "C7"]
    assert not table.roots.playing
    assert table.roots.shown.lines[0].startswith("4 of 4 chords right at once, 1.")
    kept = known_chords(log)
    assert set(kept) == {"0 F 3 5 6", "0 D 3 5 b7", "0 G b3 5 b7", "0 C 3 5 b7"}
    assert kept["0 F 3 5 6"] == Known((1.0,), 1, 1, "2026-01-05")
    assert log.passes() == [] and log.count() == 0, "it is no pass of the song"


def test_the_slow_and_the_wrong_come_again_at_the_end(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    for after_s, wrong in ((1.0, ()), (9.0, ()), (1.0, (48,)), (1.0, ())):
        table.find(after_s, *wrong)
    assert table.roots.playing and table.roots.shown.once_more
    assert (table.roots.shown.number, table.roots.shown.total) == (1, 2)
    assert [table.find(), table.find()] == ["D7", "Gm7"] and not table.roots.playing
    lines = table.roots.shown.lines
    assert lines[0].startswith("5 of 6 chords right at once") and lines[1].startswith("Slowest: D7 9.2 s")


def test_at_random_the_slow_come_more_often_and_none_twice_running(stand, log) -> None:
    table = Table(stand, Setup(order="random"), log)
    seen = []
    for _ in range(12):
        table.roots.start()
        while table.roots.playing:
            symbol = table.roots.shown.now.symbol
            after = table.roots.shown.after
            seen.append(table.find(8.0 if symbol == "Gm7" else 0.9))
            if table.roots.playing and after is not None:
                assert table.roots.shown.now.symbol == after.symbol, "what is said to come next comes"
    counts = {symbol: seen.count(symbol) for symbol in ("F6", "D7", "Gm7", "C7")}
    assert counts["Gm7"] > 1.4 * max(counts[symbol] for symbol in ("F6", "D7", "C7")), counts


def test_round_the_fourths_with_one_quality(stand, log) -> None:
    table = Table(stand, Setup(order="fourths", quality="Gm7", hand="right", way="broken"), log)
    table.roots.start()
    seen = [table.find() for _ in range(12)]
    assert seen[:4] == ["Gm7", "Cm7", "Fm7", "Bbm7"] and len(set(seen)) == 12 and not table.roots.playing
    assert set(known_chords(log, ("left",))) == set()
    assert len(known_chords(log, ("right",))) == 12


def test_what_is_left_is_the_shell_that_the_stand_plays(stand, log) -> None:
    items = items_of(stand, Setup(way="left"))
    shells = [stand.choices_at(index)[0][1].shell.midi for index in range(4)]
    assert [item.steps[1] for item in items] == shells
    right = items_of(stand, Setup(way="left", hand="right"))
    assert [item.steps[1][0] % 12 for item in right] == [shell[0] % 12 for shell in shells]
    assert all(60 <= item.steps[1][0] < 72 for item in right), "where that hand's chords lie"
    table = Table(stand, Setup(way="left"), log)
    table.roots.start()
    assert table.find() == "F6" and table.roots.shown.number == 2
    cycle = items_of(stand, Setup(way="left", order="tones", quality="C7"))
    assert all(len(item.steps) == 2 and len(item.steps[1]) == 2 for item in cycle)


def test_a_wrong_key_is_answered_at_once_by_a_sentence(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()  # F6 in the left hand: F3 A3 C4 D4
    said = []
    for keys in ((58,), (57, 60, 62, 65), (53, 57, 60)):
        table.down(*keys)
        said.append(table.roots.shown.answer)
        table.up(*keys)
    assert said == [
        "Bb: the third is A.",
        "The right notes with A lowest, the first inversion: here F is lowest.",
        "",
    ]
    table.down(53, 57, 60, 62, apart_s=0.2)
    assert table.roots.shown.answer == "Those are the keys. Now strike them all at once."
    table.up(53, 57, 60, 62)
    table.find()
    assert table.roots.shown.answer.endswith("s, not at once")


def test_broken_says_what_comes_next(stand, log) -> None:
    table = Table(stand, Setup(way="broken"), log)
    table.roots.start()
    table.down(53)
    table.down(60)
    assert table.roots.shown.answer == "Not C yet: the third, A comes next."
    assert table.roots.shown.step == 1


def test_a_key_brushed_along_a_moment_later_takes_the_at_once_away(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.wait(1.0)
    table.down(53, 57, 60, 62)
    table.now_s += 0.03
    table.down(61)
    assert table.roots.shown.answer == "F6: 1.0 s, not at once" and table.roots.shown.number == 2
    kept = known_chords(log)["0 F 3 5 6"]
    assert (kept.right, kept.tries, kept.times) == (0, 1, (6.0,))


def test_the_keys_of_a_known_chord_are_hidden_till_it_takes_long(stand, log) -> None:
    for _ in range(2):
        table = Table(stand, Setup(), log)
        table.roots.start()
        assert table.roots.shown.keys
        for _ in range(4):
            table.find()
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert not table.roots.shown.keys and table.roots.wake_s == 100.0 + REVEAL_S
    assert table.find() == "F6" and not table.roots.shown.keys
    table.wait(REVEAL_S + 0.01)
    assert table.roots.shown.keys and table.roots.wake_s is None
    table.find(0.1)
    assert known_chords(log)["0 D 3 5 b7"].right == 2, "found with the keys shown is not at once"
    table.roots.look()
    assert table.roots.shown.keys
    assert Table(stand, Setup(hand="right"), log).roots.shown.keys, "the other hand does not know them"


def test_without_a_keyboard_one_key_says_it(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.wait(2.0)
    table.roots.word()
    assert table.roots.shown.answer == "F6: 2.0 s, you say"
    table.roots.was_wrong()
    assert table.roots.shown.answer == "F6 was wrong: it comes again."
    assert known_chords(log)["0 F 3 5 6"].right == 0
    for _ in range(3):
        table.wait(1.0)
        table.roots.word()
    assert table.roots.shown.now.symbol == "F6" and table.roots.shown.once_more


def test_stopping_tells_what_was_found_and_counts_the_minutes(stand, log) -> None:
    minutes = Minutes()
    table = Table(stand, Setup(), log, minutes=minutes)
    table.roots.start()
    table.find(1.0)
    table.find(26 * 60.0)  # away from the keyboard
    table.roots.stop()
    assert table.roots.shown.lines[0].startswith("2 of 2 chords right at once")
    assert not minutes.rest_is_due and len(known_chords(log)) == 2
    assert max(known_chords(log)["0 D 3 5 b7"].times) <= 60.0


def test_a_cable_that_is_pulled_holds_no_key(stand, log) -> None:
    table = Table(stand, Setup(), log)
    table.roots.start()
    table.down(53, 57)
    table.roots.hear(KeyboardGone("keys"))
    assert table.roots.shown.down == frozenset() and table.roots.playing
    assert table.find() == "F6"


def test_a_log_that_cannot_be_written_is_said_and_it_goes_on(stand) -> None:
    class Broken:
        def states(self, kind=None, song_id=None):
            raise LogError("The log cannot be read.")

        def write(self, entry) -> None:
            raise LogError("The log cannot be written.")

    table = Table(stand, Setup(), Broken())
    assert table.roots.say() == "The log cannot be read." and table.roots.say() == ""
    table.roots.start()
    table.find()
    assert table.roots.say() == "The log cannot be written." and table.roots.shown.number == 2


def test_a_loop_without_chords_is_said(settings, log) -> None:
    table = Table(put(WALTZ, settings).with_loop((3,), "4"), Setup(), log)
    for in_time in (False, True):
        table.roots.change(Setup(in_time=in_time))
        table.roots.start()
        assert not table.roots.playing and table.roots.say() == NO_CHORD and table.roots.shown.now is None


def test_it_can_be_heard_before_it_is_played(stand, log) -> None:
    table = Table(stand, Setup(hear_first=True), log)
    table.roots.start()
    assert table.asked(Sample)[-1].notes == (53, 57, 60, 62)
    table.find()
    assert table.asked(Sample)[-1].notes == table.roots.shown.now.close.midi
    broken = Table(stand, Setup(way="broken"), log)
    broken.roots.listen()
    [load] = broken.asked(Load)
    assert [(strike.tick, strike.notes) for strike in load.arrangement.bars[0].written] == [
        (960 * number, (note,)) for number, note in enumerate((53, 57, 60, 62))
    ]
    assert broken.asked(Play)


# --- with the click


def test_in_time_each_chord_is_due_where_the_chart_has_it(settings, log) -> None:
    timed = timed_round(put(EIGHT, settings), Setup(in_time=True), {}, random.Random(1).random)
    places = [(item.place, pulse) for item, pulse in timed.items]
    for (index, number), pulse in places:
        assert pulse == 4 * index + put(EIGHT, settings).bars[index].chords[number].beat
    waltz = timed_round(put(WALTZ, settings), Setup(in_time=True), {}, random.Random(1).random)
    assert [(item.symbol, pulse) for item, pulse in waltz.items] == [("F6", 0), ("Gm7", 3), ("C7", 5), ("F6", 6)]
    assert [meter.name for meter in waltz.meters] == ["3/4"] * 3
    broken = timed_round(put(WALTZ, settings), Setup(in_time=True, way="broken"), {}, random.Random(1).random)
    assert [pulse for _, pulse in broken.items] == [0, 6, 12, 18], "four notes need two bars of three"


def test_at_random_with_the_click_a_chord_has_a_bar_and_none_comes_twice_running(stand, log) -> None:
    slow = {"0 G b3 5 b7": Known((9.0,), 0, 1, "")} | {
        name: Known((1.0,), 1, 1, "") for name in ("0 F 3 5 6", "0 D 3 5 b7", "0 C 3 5 b7")
    }
    counts = Counter()
    for seed in range(40):
        timed = timed_round(stand, Setup(in_time=True, order="random"), slow, random.Random(seed).random)
        symbols = [item.symbol for item, _ in timed.items]
        assert len(symbols) == 8 and all(a != b for a, b in itertools.pairwise(symbols))
        assert [pulse for _, pulse in timed.items] == [4 * number for number in range(8)]
        counts.update(symbols)
    assert counts["Gm7"] > 1.3 * max(counts[symbol] for symbol in ("F6", "D7", "C7"))


def test_a_round_with_the_click_is_marked_chord_by_chord(stand, log) -> None:
    table = Table(stand, Setup(in_time=True, tempo_bpm=60.0), log)
    table.roots.start()
    notes = [item.close.midi for item in items_of(stand, Setup())]
    table.sound.advance()
    table.sound.prepare()
    reports = list(table.sound.take_reports())
    for report in reports:
        table.roots.hear(report)
    first = next(report.time_s for report in reports if isinstance(report, Started)) + 4.0  # after the count-in
    table.press(first + 0.02, *notes[0])
    table.press(first + 4.0 + 0.2, *notes[1])
    for late, note in zip((0.0, 0.05, 0.1, 0.15), notes[2], strict=True):
        table.press(first + 8.0 + late, note)
    table.press(first + 12.0, *notes[3][:3], notes[3][3] + 1)
    table.run()
    assert table.roots.shown.lines == (
        "1 of 4 chords right and in time.",
        "Wrong: C7.",
        "Not together: Gm7.",
        "Late: D7.",
    )
    kept = known_chords(log)
    assert {name: known.right for name, known in kept.items()} == {
        "0 F 3 5 6": 1,
        "0 D 3 5 b7": 1,
        "0 G b3 5 b7": 0,
        "0 C 3 5 b7": 0,
    }
    assert all(load.arrangement.parts == ("click", "bass") for load in table.asked(Load))


def test_a_look_at_the_keys_with_the_click_is_not_at_once(stand, log) -> None:
    for each in items_of(stand, Setup()):
        log.put_state("", each.memory_key, KIND, Known((1.0, 1.0), 2, 2).to_json(), "left")
    table = Table(stand, Setup(in_time=True, tempo_bpm=60.0), log)
    table.roots.start()
    assert not table.roots.shown.keys
    table.roots.look()
    assert table.roots.shown.keys
    table.sound.advance()
    table.sound.prepare()
    reports = list(table.sound.take_reports())
    for report in reports:
        table.roots.hear(report)
    first = next(report.time_s for report in reports if isinstance(report, Started)) + 4.0
    for number, item in enumerate(items_of(stand, Setup())):
        table.press(first + 4.0 * number, *item.close.midi)
    table.run()
    assert table.roots.shown.lines == ("4 of 4 chords right and in time.",)
    assert [known_chords(log)[each.memory_key].right for each in items_of(stand, Setup())] == [2, 3, 3, 3]


def test_with_the_click_and_no_keyboard_only_what_the_student_says_is_kept(stand, log) -> None:
    table = Table(stand, Setup(in_time=True, tempo_bpm=240.0), log)
    table.roots.start()
    original = table.roots.tick

    def tick(now_s: float) -> None:
        original(now_s)
        if table.roots.shown.number == 3:
            table.roots.was_wrong()

    table.roots.tick = tick
    table.run()
    assert table.roots.shown.lines == ("1 of 4 chords slipped, you say: Gm7.",)
    assert set(known_chords(log)) == {"0 G b3 5 b7"}


def test_a_click_that_is_stopped_is_silent_and_late_reports_change_nothing(stand, log) -> None:
    table = Table(stand, Setup(in_time=True), log)
    table.roots.start()
    table.roots.stop()
    assert isinstance(table.sent[-1], Stop) and not table.roots.playing
    for report in list(table.sound.take_reports()):
        table.roots.hear(report)
    table.roots.start()
    assert table.roots.playing and table.roots.shown.beat is None


def test_the_tempo_is_held_within_bounds_and_changes_from_the_next_beat(stand, log) -> None:
    table = Table(stand, Setup(in_time=True), log)
    table.roots.start()
    table.roots.change_tempo(1000.0)
    assert table.roots.setup.tempo_bpm == 400.0 and isinstance(table.sent[-1], SetTempo)


# --- what is new


def test_how_many_of_a_songs_chords_are_new(stand, settings, log) -> None:
    assert new_chords(log, stand.song) == (4, 4)
    table = Table(stand, Setup(hand="right"), log)
    table.roots.start()
    table.find()
    table.find()
    assert new_chords(log, stand.song) == (2, 4)
    assert new_chords(log, stand.with_key("G").song) == (3, 4), "F6 D7 Gm7 C7 in G: G6 E7 Am7 D7, of which D7 is known"


def test_a_memory_of_a_newer_shape_is_left_alone(stand, log) -> None:
    log.put_state("", "0 F 3 5 6", KIND, {"else": 1}, "left")
    assert known_chords(log) == {}
    table = Table(stand, Setup(), log)
    table.roots.start()
    assert table.find() == "F6" and known_chords(log)["0 F 3 5 6"].tries == 1


def test_what_is_known_of_each_chord_by_hand(stand, log) -> None:
    table = Table(stand, Setup(hand="right"), log)
    table.roots.start()
    table.find(1.5)
    lines = known_of_song(log, stand.song)
    assert [each.symbol for each in lines] == ["F6", "D7", "Gm7", "C7"]
    assert set(lines[0].by_hand) == {"right"} and lines[0].by_hand["right"].find_s == 1.5
    assert all(not each.by_hand for each in lines[1:])
    table.find(3.9)  # and the 0.2 since the chord before
    assert known_sentences(known_of_song(log, stand.song)) == (
        "Right hand: 2 of 4 chords played, 0 of them sure; found in 2.8 s as a rule, D7 in 4.1 s.",
    )
    assert known_sentences(lines[1:]) == ()


def test_how_one_practised_last_is_how_one_begins(stand, log) -> None:
    assert last_setup(log, "left", 50.0) == Setup(tempo_bpm=50.0)
    keep_setup(log, Setup("right", 2, "broken", "fourths", True, 90.0, "Gm7", True))
    # Hand, tempo and quality are of the song and what one comes from.
    assert last_setup(log, "left", 50.0) == Setup("left", 2, "broken", "fourths", True, 50.0, "", True)


@pytest.mark.parametrize("damaged", [3, None, "x", {"way": "sideways", "inversion": 9, "in_time": "yes"}, {"way": []}])
def test_a_damaged_setup_is_the_usual_one(log, damaged) -> None:
    log.put_state("", "", SETUP_KIND, damaged)
    assert last_setup(log, "left", 60.0) == Setup()
