"""Free time and the drill of names, heard by a microphone: what it is asked to wait for, and what comes of what it tells."""

from __future__ import annotations

import pytest
from desk import Conducted, put
from root_table import Table
from session_songs import FOUR, SUNG_FOUR

from companion.practice.drills.root_position import NAMES
from companion.practice.planning.plan import PlanItem
from companion.session.chords.memory import SHELL_KIND, known_chords
from companion.session.chords.rounds import Setup
from companion.session.ear import STRIKE_AGAIN, Ear
from companion.session.free import SHELLS_ALONE, FreeTime
from companion.session.plan_items import NO_KEYBOARD, start_item
from companion.sound.listening.messages import Await, MicrophoneOff, MicrophoneReady, StrokeHeard
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, WRONG, HeardNote, StrokeVerdict
from companion.sound.messages import NoteIn

TOLD_S = 0.19  # so long after its stroke a verdict comes


def last_asked(sent):
    return next(message.awaited for message in reversed(sent) if isinstance(message, Await))


def stroke(awaited, now_s, kind=RIGHT, notes=None):
    heard = () if kind == NOT_SURE else notes or awaited.notes
    verdict = StrokeVerdict(awaited.number, kind, tuple(HeardNote(note, 0.98) for note in heard), now_s, 0.98)
    return StrokeHeard(verdict, now_s + TOLD_S)


class Listened:
    """Free time with a microphone. At second 100 it begins."""

    def __init__(self, stand, log) -> None:
        self.now_s, self.listens, self.sent = 100.0, True, []
        self.free = FreeTime(stand, log, 100.0, ear=Ear(self.sent.append, lambda: self.listens))

    @property
    def awaited(self):
        return last_asked(self.sent)

    def strike(self, kind=RIGHT, notes=None, after_s=1.5) -> None:
        self.now_s += after_s
        self.free.hear(stroke(self.awaited, self.now_s, kind, notes))


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)  # F6 D7 Gm7 C7


def test_each_shell_is_waited_for_in_turn_and_the_round_says_how_it_was_heard(stand, log):
    table = Listened(stand, log)
    for place in range(4):
        assert table.awaited.notes == stand.choices_at(place)[0][1].shell.midi
        assert table.awaited.from_s == table.now_s, "what came before its turn is not for it"
        table.strike()
    (record,) = log.passes()
    assert (record.source, record.heard_by, record.kind, record.share_right) == ("heard", "microphone", "free", 1.0)
    assert [row["hesitation_ms"] for row in record.chords] == [1500] * 4
    assert len({message.awaited.number for message in table.sent}) == 5, "the second time round is asked for too"


def test_what_was_surely_another_is_answered_and_counted_and_what_is_not_sure_is_not(stand, log):
    table = Listened(stand, log)
    low, high = table.awaited.notes
    table.strike(NOT_SURE)
    assert table.free.answer == STRIKE_AGAIN and not table.free._waiting.extra
    table.strike(WRONG, (low, high + 1))
    assert table.free.answer.startswith("G") or ":" in table.free.answer
    assert table.free.shown["down"] == {low, high + 1}, "what was heard is seen"
    table.strike(WRONG, (low,))
    assert table.free.shown["down"] == {low} and table.free.answer == ""
    table.strike()
    assert table.free.target.index == 1 and table.free.shown["down"] == frozenset()
    for _ in range(3):
        table.strike()
    (record,) = log.passes()
    assert (record.slipped, record.share_right, record.clean) == ((0,), 0.75, False)
    assert record.chords[0]["hesitation_ms"] == 6000


def test_the_shell_before_struck_on_is_no_slip(stand, log):
    table = Listened(stand, log)
    before = table.awaited.notes
    table.strike()
    table.strike(WRONG, before)
    assert "shell before" in table.free.answer
    for _ in range(3):
        table.strike()
    assert log.passes()[0].share_right == 1.0


def test_what_is_told_of_another_shell_says_nothing(stand, log):
    table = Listened(stand, log)
    old = table.awaited
    table.strike()
    table.free.hear(stroke(old, table.now_s + 0.5))
    assert table.free.target.index == 1
    table.free.stop(table.now_s + 1.0)
    assert table.awaited is None, "nothing is waited for any more"


def test_with_both_hands_the_shells_are_waited_for_and_the_melody_may_come_with_them(settings, log):
    table = Listened(put(SUNG_FOUR, settings).change(hands="both"), log)
    assert table.free.say == SHELLS_ALONE
    sung = {note for bar in table.free.stand.arrangement().bars for each in bar.written for note in each.notes}
    seen = set()
    for _ in range(4):
        assert len(table.awaited.notes) == 2 and table.awaited.ceiling < 127
        seen |= set(table.awaited.also)
        table.strike()
    assert seen and seen <= sung
    (record,) = log.passes()
    assert record.hands == "both" and record.share_right == 1.0 and not record.clean, "not every note was asked for"


def test_a_keyboard_takes_over_and_a_microphone_that_comes_back_is_asked_anew(stand, log):
    table = Listened(stand, log)
    table.strike(WRONG, (40, 41))
    table.listens = False
    table.free.hear(MicrophoneOff())
    assert table.free.shown["down"] == frozenset()
    for note in table.free.target.notes:
        table.free.hear(NoteIn(table.now_s + 1.0, note, 70, "keys"))
    assert table.free.target.index == 1 and len(table.sent) == 1
    table.listens = True
    table.free.hear(MicrophoneReady(0.2))
    assert table.awaited.notes == table.free.target.notes


def test_free_time_is_offered_with_a_microphone_but_not_to_the_right_hand_alone(settings, log):
    table = Conducted(put(SUNG_FOUR, settings), log, settings)
    conductor, sent = table.conductor, []
    conductor.playback.microphone = sent.append
    (needs,) = conductor.practise("free")
    assert not needs.right_hand
    conductor.hear(MicrophoneReady(0.2))
    assert conductor.practise("free") == [] and conductor.start() and conductor.playing
    assert last_asked(sent).notes == conductor.state.waiting.notes
    conductor.hear(stroke(last_asked(sent), conductor._clock() + 1.0))
    assert last_asked(sent).notes == conductor.state.waiting.notes and conductor.state.signs
    conductor.stop()
    assert last_asked(sent) is None
    conductor.change_stand(lambda stand: stand.with_hands("right"))
    (needs,) = conductor.practise("free")
    assert needs.right_hand


@pytest.mark.parametrize(("hands", "kind"), [("left", "free"), ("both", "play")])
def test_an_item_in_free_time_waits_where_every_note_of_it_is_heard(settings, log, hands, kind):
    table = Conducted(put(SUNG_FOUR, settings), log, settings)
    table.conductor.hear(MicrophoneReady(0.2))
    item = PlanItem("step", 5, "Step 1", "a-song", "Four", "A", (0, 1), "free", hands=hands, tempo_bpm=0.0, passes=1)
    assert (NO_KEYBOARD in str(start_item(table.conductor, item))) == (kind == "play")
    assert table.conductor.kind == kind


# --- names


def test_names_are_heard_and_the_next_is_seen_for_its_whole_moment(stand, log):
    table = Table(stand, Setup(way=NAMES, order="random"), log, microphone=lambda: True)
    sent = []
    table.roots._playback.microphone = sent.append
    table.roots.start()
    assert last_asked(sent).notes == table.roots.shown.now.shell
    table.wait(0.8)
    low, high = last_asked(sent).notes
    table.roots.hear(stroke(last_asked(sent), table.now_s, NOT_SURE))
    assert table.roots.shown.answer == STRIKE_AGAIN and table.roots.shown.number == 1
    table.roots.hear(stroke(last_asked(sent), table.now_s, WRONG, (low, high + 1)))
    assert ":" in table.roots.shown.answer
    table.wait(0.5)
    table.roots.hear(stroke(last_asked(sent), table.now_s))
    assert (table.roots.shown.number, table.roots.shown.down) == (2, frozenset())
    (known,) = known_chords(log, kind=SHELL_KIND).values()
    assert (known.right, known.tries) == (0, 1)
    table.wait(TOLD_S + 0.95)
    assert table.roots.shown.name, "it was shown only when the last was told"
    table.wait(0.1)
    assert not table.roots.shown.name
    (low, high), before = last_asked(sent).notes, table.roots.shown.number
    table.roots.hear(stroke(last_asked(sent), table.now_s, WRONG, (low + 12, high + 12)))
    assert table.roots.shown.number == before + 1, "in any octave, as on a keyboard"
    table.roots.stop()
    assert last_asked(sent) is None


@pytest.mark.parametrize(
    "setup", [Setup(), Setup(way=NAMES, hand="right", order="random"), Setup(way=NAMES, in_time=True)]
)
def test_nothing_else_of_single_chords_is_asked_of_a_microphone(stand, log, setup):
    table = Table(stand, setup, log, microphone=lambda: True)
    sent = []
    table.roots._playback.microphone = sent.append
    table.roots.start()
    assert table.roots.playing and sent == [] and not table.roots.hears_shells
