"""Level, scale, check and own sound of the microphone, on sound that is made here so that all of it is known."""

from __future__ import annotations

from functools import cache

import miniaudio
import numpy as np
import pytest
from strings_made import RATE, played, scale, string

from companion.sound.listening.capture import Capture, open_capture
from companion.sound.listening.clocks import CAPTURE_RATE, Decimator
from companion.sound.listening.level import CLIPPING, HUM, NOISE, SOFT, LevelMeter
from companion.sound.listening.messages import NoteLearned, PianoChecked, PianoLearned
from companion.sound.listening.own_sound import EchoMeter, PlayedStream, echo_of
from companion.sound.listening.piano import NOTES, from_bytes
from companion.sound.listening.teaching import Teacher
from companion.sound.listening.verdicts import CHECKED
from companion.sound.played import Played

BLOCK = RATE // 20


def blocks(sound):
    return [(sound[at : at + BLOCK], at / RATE) for at in range(0, len(sound), BLOCK)]


def taught(sound, **about):
    teacher = Teacher(**about)
    return [said for block, at_s in blocks(sound) for said in teacher.hear(block, at_s)]


@cache
def learned():
    return taught(scale(), name="upright")


def test_each_note_of_the_scale_is_heard_and_the_piano_learned():
    notes = [said for said in learned() if isinstance(said, NoteLearned)]
    assert [note.heard for note in notes] == list(NOTES) and not any(note.again for note in notes)
    piano = from_bytes(learned()[-1].piano, "here")
    assert learned()[-1].name == "upright" and abs(piano.tuning_cents) < 3


def test_a_wrong_key_is_told_and_asked_for_again():
    keys = [(0.7 + 0.8 * place, note, 0.75) for place, note in enumerate((40, 43, 41, 41))]
    notes = taught(played(keys, 4.5), notes=(40, 41, 42), name="upright")
    assert [(note.wanted, note.heard, note.again) for note in notes] == [
        (40, 40, False),
        (41, 43, True),
        (41, 41, False),
        (42, 41, True),
    ]


@pytest.mark.parametrize(("cents", "fits"), [(0.0, True), (25.0, False)])
def test_three_notes_tell_whether_the_piano_is_the_same(cents, fits):
    piano = next(said for said in learned() if isinstance(said, PianoLearned))
    keys = [(0.7 + 0.8 * place, note, 0.75) for place, note in enumerate(CHECKED)]
    said = taught(played(keys, 3.5, cents), notes=CHECKED, piano=from_bytes(piano.piano, "here"))
    assert isinstance(said[-1], PianoChecked) and said[-1].fits == fits and abs(said[-1].cents - cents) < 4


def advice(sound) -> str:
    meter = LevelMeter()
    return [level for block, _ in blocks(sound) if (level := meter.hear(block))][-1].advice


def test_the_level_is_told_what_to_do_about():
    at = np.arange(3 * RATE) / RATE
    note = played([(1.5, 48, 1.0)], 3.0)
    loud = note / np.abs(note).max()
    noise = np.random.default_rng(1).normal(0, 1, len(at))
    hum = sum(np.sin(2 * np.pi * hz * at) for hz in (50, 100, 150))
    assert advice((0.5 * loud).astype(np.float32)) == ""
    assert advice(np.clip(3 * loud, -1, 1).astype(np.float32)) == CLIPPING
    assert advice((0.003 * loud).astype(np.float32)) == SOFT
    assert advice((0.3 * loud + 0.02 * noise).astype(np.float32)) == NOISE
    assert advice((0.3 * loud + 0.02 * hum).astype(np.float32)) == HUM
    still = np.zeros(RATE, np.float32)
    legato = played(
        [(0.6 * place, note, 0.62) for place, note in enumerate((43, 45, 47, 48, 50, 52, 43, 45, 47, 48, 43))], 6.5
    )
    assert advice(np.concatenate([still, 0.5 * legato / np.abs(legato).max()]).astype(np.float32)) == ""
    begins = np.tile(0.02 * hum, 6).astype(np.float32)  # a charger is plugged in after a while
    assert advice(np.concatenate([still, still, begins])) == HUM


def test_what_is_lost_is_seen_and_time_does_not_drift():
    now_s = [100.0]
    capture, at_s, starts = Capture(lambda: now_s[0]), 100.0, []
    rng = np.random.default_rng(2)
    for number in range(400):
        at_s += 0.01 + (0.1 if number == 200 else 0.0)  # a tenth of a second never arrives
        now_s[0] = at_s + float(rng.exponential(0.002)) + (0.03 if number % 37 == 0 else 0.0)  # busy
        capture.arrived(np.full(480, at_s - 0.01, np.float32))
        starts += [(start_s, sound) for sound, start_s in capture.take()]
    # What each block holds is when it was heard; the filter is on its way from one block to the next at its first samples.
    off_s = [start_s + Decimator.DELAY_S - float(sound[-1]) for start_s, sound in starts]
    assert abs(capture.lost_s - 0.1) < 0.005
    assert len(starts) == 400 and max(map(abs, off_s[50:])) < 0.004


def test_a_device_that_gives_nothing_is_gone_but_not_a_machine_that_slept():
    now_s = [100.0]
    capture = Capture(lambda: now_s[0])
    now_s[0] += 3600.0
    assert not capture.is_gone
    for _ in range(18):
        now_s[0] += 0.1
        assert not capture.is_gone
    capture.arrived(np.zeros(480, np.float32))
    capture.take()
    for _ in range(19):
        now_s[0] += 0.1
        assert not capture.is_gone
    now_s[0] += 0.2
    capture.is_gone  # noqa: B018  asked, so that time goes on
    now_s[0] += 0.2
    assert capture.is_gone


def test_a_third_of_the_samples_is_the_same_sound():
    at = np.arange(CAPTURE_RATE) / CAPTURE_RATE
    decimator, out, starts = Decimator(), [], []
    sound = (np.sin(2 * np.pi * 440 * at) + np.sin(2 * np.pi * 11_000 * at)).astype(np.float32)
    for begin in range(0, len(sound), 500):
        low, after_s = decimator.take(sound[begin : begin + 500])
        out.append(low)
        starts.append(begin / CAPTURE_RATE + after_s)
    got = np.concatenate(out)
    times = starts[0] + np.arange(len(got)) / RATE
    assert len(got) == RATE and np.abs(got - np.sin(2 * np.pi * 440 * times))[100:-100].max() < 0.02


def test_the_own_sound_is_measured_and_taken_out():
    from companion.sound.listening.echo import measuring_noise

    ours = Played()
    try:
        noise = np.interp(np.arange(0, 3.2 * RATE, 1 / 3), np.arange(int(3.2 * RATE)), measuring_noise()).astype(
            np.float32
        )
        sound = np.concatenate([np.zeros(24_000, np.float32), noise, np.zeros(60_000, np.float32)])
        click = np.concatenate([np.zeros(2000), 0.5 * np.exp(-np.arange(46_000) / 400.0)]).astype(np.float32)
        sound = np.concatenate([sound, *[click] * 3])
        room = np.zeros(400)
        room[[120, 300]] = 0.4, 0.2  # loudspeaker to microphone, once straight and once by a wall
        decimator, heard_all = Decimator(), np.convolve(sound, room)[: len(sound)].astype(np.float32)
        stream, meter, result, left, there = PlayedStream(ours), EchoMeter(), None, [], []
        echo = None
        for begin in range(0, len(sound), 960):
            ours.write(sound[begin : begin + 960], begin, 50.0)
            # The device plays 20 ms ahead of what is heard.
            at = begin - 960
            if at < 0:
                continue
            low, after_s = decimator.take(heard_all[at : at + 960])
            played_then = stream.take(len(low), 50.0 + at / CAPTURE_RATE + after_s)
            if result is None:
                result = meter.hear(low, played_then)
                echo = echo_of(result.response) if result else None
            else:
                there.append(low)
                left.append(echo.clean(low, played_then))
        assert result.heard and result.is_good
        loud, rest = (np.sum(np.square(np.concatenate(each))) for each in (there, left))
        assert loud > 1.0 and 10 * np.log10(loud / rest) > 12
    finally:
        ours.remove()


def test_noise_that_does_not_come_back_is_as_good_as_headphones():
    meter, result, number = EchoMeter(), None, 0
    rng = np.random.default_rng(3)
    while result is None:
        level = 0.1 if 10 <= number < 74 else 0.0
        number += 1
        room = rng.normal(0, 1e-3, BLOCK).astype(np.float32)
        result = meter.hear(room, rng.normal(0, level, BLOCK).astype(np.float32))
    assert not result.heard and not result.is_good


def test_a_key_that_is_down_at_first_is_not_taken_for_the_room():
    sound = np.concatenate([string(40)[: RATE // 2], played([(1.2, 40, 0.8)], 2.5)])
    notes = taught(sound, notes=(40, 41), name="upright")
    assert [(note.wanted, note.heard, note.again) for note in notes] == [(40, 40, False)]


def test_the_microphone_is_sought_behind_every_back_end(monkeypatch):
    # As miniaudio does: of several back ends it takes the first whose library is there, and then fails where that one has no device.
    class Device:
        def __init__(self, backends, **about):
            if backends[0] is not miniaudio.Backend.JACK:
                raise miniaudio.MiniaudioError("failed to init device", -401)

        def start(self, blocks):
            pass

    monkeypatch.setattr(miniaudio, "CaptureDevice", Device)
    assert isinstance(open_capture().device, Device) and open_capture("alsa") is None
