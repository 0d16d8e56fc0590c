"""What a pass came to, said aloud: its words, and that it is never talked over a count-in."""

from __future__ import annotations

import threading
from dataclasses import replace

import numpy as np
import pytest
from desk import Conducted, nothing, put, right, slips
from session_songs import FOUR

from companion.errors import SpeechError
from companion.session.aloud import Aloud, words_of
from companion.session.called import Caller, cannot_speak
from companion.session.changes import Ended, PassOver
from companion.session.playback import Playback
from companion.sound import spoken
from companion.sound.messages import SPOKEN_RATE, Play, Say, SoundConfig
from companion.speech.speaker import Speaker


class Listener:
    """Takes what is to be said."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def say(self, words: str) -> None:
        self.said.append(words)

    def hush(self) -> None:
        self.said.append("-")

    def want(self, words) -> None:
        """Nothing is called here."""


@pytest.fixture
def practised(settings, log):
    """Four bars practised in some way to some moment; what is said aloud of it, if that is wanted."""

    def make(kind, hands, until, *, wanted=True, **changes):
        table = Conducted(put(FOUR, settings, **changes), log, settings)
        table.desk.hands = hands
        listener = Listener()
        aloud = Aloud(listener, lambda: wanted)  # type: ignore[arg-type]
        do = table.do

        def told(changes):
            aloud.tell(changes, table.conductor.state)
            return do(changes)

        table.do = told
        table.do(table.conductor.practise(kind))
        table.do(table.conductor.start())
        until(table)
        return table, listener.said

    return make


def passes(count):
    return lambda table: table.desk.run(until=lambda: table.desk.turns > count)


def test_a_heard_pass_is_said_with_its_share_its_slips_and_what_comes_next(practised):
    _, said = practised("climb", right, passes(1))
    assert len(said) == 1 and said[0].startswith("100 per cent right. Next at ")
    _, said = practised("climb", slips((0, 2), (1, 2)), passes(1))
    assert said[0].startswith("75 per cent right. Slipped: A 3.")


def test_no_chord_is_named_and_the_end_is_said(practised):
    _, said = practised("fade", right, lambda table: table.desk.run())
    assert said[-1].endswith("Done: from memory.") and not any(
        name in " ".join(said) for name in ("F6", "D7", "Gm", "C7")
    )


def test_without_a_keyboard_what_waits_is_said_once_it_is_stopped(practised):
    def told(table):
        passes(2)(table)
        table.do(table.conductor.stop())
        table.do(table.conductor.answer())

    _, said = practised("fade", nothing, told)
    assert said == ["2 passes wait for your word.", "It ran."]


def test_it_is_off_by_default_and_silent_while_changes_are_called(practised, settings):
    assert settings.practice.aloud is False
    assert practised("climb", right, passes(1), wanted=False)[1] == []
    table, said = practised("climb", right, passes(1), calls="always")
    assert said == []
    state = replace(table.conductor.state, playing=False)
    over = next(change for change in table.changes if isinstance(change, PassOver))
    assert words_of(over, state).startswith("100 per cent right.") and words_of(Ended(over), state) == ""


@pytest.fixture
def voice(monkeypatch):
    """A speaker that takes as long as a test lets it."""
    may_speak = threading.Event()

    def samples(self, words, most_s, rate, *, keep=True):
        assert may_speak.wait(60)
        if "dumb" in words:
            raise SpeechError("No speech was found.")
        return np.full(rate // 10, 0.5, np.float32)

    monkeypatch.setattr(Speaker, "samples", samples)
    return may_speak


class Sent(list):
    """A link."""

    config = SoundConfig()

    def send(self, message) -> None:
        self.append(message)


def test_the_newest_is_said_and_a_start_takes_it_away(voice, tmp_path):
    sent, faults = Sent(), []
    caller = Caller(tmp_path, sent.send, faults.append)
    caller.say("The first.")
    caller.say("The second.")
    voice.set()
    assert caller.wait(60) and [type(message) for message in sent] == [Say]
    voice.clear()
    caller.say("Too late.")
    Playback(sent, speak=caller.want, hush=caller.hush).play(Play(100))
    voice.set()
    assert caller.wait(60) and [type(message) for message in sent] == [Say, Play], "never over the count-in"
    caller.say("dumb")
    assert caller.wait(60)
    caller.say("Nothing more is tried.")
    assert caller.wait(60) and faults == ["No speech was found."] and len(sent) == 2


def test_what_is_said_sounds_at_once_and_what_begins_ends_it():
    pytest.importorskip("miniaudio", reason="no built-in sound for this Python")
    from companion.sound.builtin import BuiltinOutput
    from companion.sound.messages import default_voices
    from companion.sound.player import Player

    output = BuiltinOutput(SPOKEN_RATE, 0.0, perf=lambda: 0.0)
    player = Player(output, default_voices())
    spoken.say(Say((np.full(SPOKEN_RATE, 0.5) * 32767).astype("<i2").tobytes()), output)
    lead = round(output.lead_s * SPOKEN_RATE)
    assert not output.block(lead).any() and np.abs(output.block(4800)).min() > 0.1
    player.silence()  # as each start does
    output.block(480)
    assert not output.block(4800).any()


@pytest.mark.parametrize(("output", "why"), [("midi", "a MIDI port cannot speak"), ("silent", "nothing sounds now")])
def test_why_nothing_is_spoken_is_true(output, why):
    listener = Listener()
    said = Aloud(listener, lambda: True).tried(output)  # type: ignore[arg-type]
    assert said == f"What happened is said with the built-in sound alone: {why}." and not listener.said
    assert cannot_speak(output) == f"The changes are called with the built-in sound alone: {why}."
    assert cannot_speak("builtin") == cannot_speak("") == ""
