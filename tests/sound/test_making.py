"""Notes made by a process of their own, behind the plain ones, and kept on disk."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from sound.conftest import PATIENCE
from sound.soundfonts_made import general_midi, needs_fluidsynth, sine, soundfont

from companion.sound import instruments, voices
from companion.sound.builtin import BuiltinOutput
from companion.sound.instruments import Instruments
from companion.sound.making import NoteMaker, note_maker
from companion.sound.mixer import velocity_gain
from companion.sound.note_files import NoteFiles
from companion.sound.outputs import Sound
from companion.sound.voices import SAMPLE_RATE, render, render_full
from companion.sound.wanted import Wanted

RATE = SAMPLE_RATE
SOME = np.arange(2 * 480, dtype=np.int16).reshape(2, 480)
SHELL = Wanted("left", 51, 80, program=1)


# --- on disk


def test_notes_are_read_back_as_they_were_written(tmp_path):
    files = NoteFiles(tmp_path / "notes")
    assert files.read("one") is None
    files.write("one", SOME)
    assert np.array_equal(files.read("one"), SOME)
    assert [path.name for path in (tmp_path / "notes").iterdir()] == ["one.note"], "nothing half written is left"


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-7])


def longer(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"more")


def changed(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[500] ^= 1
    path.write_bytes(data)


def zeroed(path: Path) -> None:
    path.write_bytes(bytes(path.stat().st_size))


def foreign(path: Path) -> None:
    path.write_text("something else", encoding="utf-8")


def emptied(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("spoil", [cut, longer, changed, zeroed, foreign, emptied])
def test_a_bad_file_counts_as_none_and_is_made_anew(spoil, tmp_path):
    made = Instruments(NoteFiles(tmp_path), RATE).note(Wanted("click", 76, 100, True))
    [path] = tmp_path.glob("*.note")
    spoil(path)
    assert NoteFiles(tmp_path).read(path.stem) is None
    assert np.array_equal(Instruments(NoteFiles(tmp_path), RATE).note(Wanted("click", 76, 100, True)), made)
    assert np.array_equal(NoteFiles(tmp_path).read(path.stem), made)


def test_a_kept_note_is_not_made_again_and_a_changed_sound_is(tmp_path, monkeypatch):
    Instruments(NoteFiles(tmp_path), RATE).note(SHELL)
    asked = []
    monkeypatch.setattr(instruments, "render_full", lambda *note: asked.append(note) or render_full(*note))
    Instruments(NoteFiles(tmp_path), RATE).note(SHELL)
    assert asked == []
    monkeypatch.setattr(instruments, "own_version", lambda: "another")
    Instruments(NoteFiles(tmp_path), RATE).note(SHELL)
    assert len(asked) == 1


def test_where_nothing_can_be_kept_notes_are_made_all_the_same(tmp_path):
    in_the_way = tmp_path / "a file"
    in_the_way.write_text("", encoding="utf-8")
    assert Instruments(NoteFiles(in_the_way / "notes"), RATE).note(Wanted("click", 76, 100)).shape[0] == 2


def test_two_who_keep_the_same_notes_at_once(tmp_path):
    """Whoever reads meanwhile finds the whole note or none."""
    found, done = [], threading.Event()

    def write() -> None:
        files = NoteFiles(tmp_path)
        for _ in range(60):
            files.write("one", SOME)

    def read() -> None:
        while not done.is_set():
            found.append(NoteFiles(tmp_path).read("one"))

    reader = threading.Thread(target=read)
    writers = [threading.Thread(target=write) for _ in range(2)]
    for thread in (reader, *writers):
        thread.start()
    for thread in writers:
        thread.join()
    done.set()
    reader.join()
    assert all(one is None or np.array_equal(one, SOME) for one in found)
    assert np.array_equal(NoteFiles(tmp_path).read("one"), SOME)


def test_the_longest_unasked_go_where_there_is_too_much(tmp_path):
    files = NoteFiles(tmp_path, most_bytes=2 * (SOME.nbytes + 12))
    for age, name in enumerate(("new", "old", "oldest")):
        files.write(name, SOME)
        os.utime(tmp_path / f"{name}.note", (1e9 - age, 1e9 - age))
    files.read("oldest")  # asked for now
    files.tidy()
    assert sorted(path.stem for path in tmp_path.iterdir()) == ["new", "oldest"]


# --- made


def wait_for(maker: NoteMaker, wanted: Wanted) -> np.ndarray:
    end_s = time.perf_counter() + PATIENCE
    while (samples := maker.get(wanted)) is None:
        assert time.perf_counter() < end_s, f"{wanted} was not made"
        time.sleep(0.01)
    return samples


@pytest.fixture
def make(tmp_path):
    """Starts a maker that keeps its notes in `tmp_path`."""
    makers = []

    def start(soundfont: str = "") -> NoteMaker:
        makers.append(NoteMaker(str(tmp_path / "notes"), soundfont, RATE))
        return makers[-1]

    yield start
    for maker in makers:
        maker.close()


def test_a_plain_note_sounds_until_the_full_one_is_made_on_the_very_same_frame(make):
    """The first strike and the tenth begin on the frame that was asked for; the second is as our own voices make it, in two sides."""
    maker = make()
    output = BuiltinOutput(maker=maker)
    strike = Sound("note_on", 1, 51, 80, "left")
    output.send(strike, 480 / RATE)
    plain = output.block(24_000)
    assert not plain[:480].any() and plain[480].all()
    output.prepare([strike])
    made = wait_for(maker, SHELL)
    assert np.array_equal(made, render_full("left", 51, RATE, 80))
    output.silence({}, [])
    output.block(4800)
    at = output.mixer.frame + 960
    output.send(strike, at / RATE)
    full = output.block(24_000)
    assert not full[:960].any() and full[960].all()
    sides = [np.corrcoef(*sound[2000:].T)[0, 1] for sound in (plain, full)]
    assert sides[0] > 0.999 > 0.95 > sides[1]


@needs_fluidsynth
def test_the_same_by_a_soundfont(make, tmp_path):
    path = tmp_path / "two.sf2"
    path.write_bytes(soundfont([{54: 1}], [sine(440)], program=0))
    maker = make(str(path))
    for wanted in (SHELL, Wanted("bass", 33, 90, program=33)):
        maker.ask(wanted)
    own_bass = wait_for(maker, Wanted("bass", 33, 90, program=33))
    assert np.array_equal(own_bass, render_full("bass", 33, RATE)), "what it lacks is ours"
    of_font = wait_for(maker, SHELL)
    spectrum = np.abs(np.fft.rfft(of_font[0, :RATE].astype(float)))
    assert np.argmax(spectrum) == pytest.approx(440 * 2 ** ((51 - 69) / 12), abs=1)
    assert maker.fault() == ""


@pytest.mark.parametrize("name", ["nowhere.sf2", "cut.sf2"])
def test_a_bad_soundfont_is_said_once_and_ours_plays(make, tmp_path, name):
    (tmp_path / "cut.sf2").write_bytes(soundfont([{}], [sine(440)])[:-90])
    maker = make(str(tmp_path / name))
    output = BuiltinOutput(maker=maker)
    output.prepare([Sound("note_on", 1, 51, 80, "left")])
    assert np.array_equal(wait_for(maker, SHELL), render_full("left", 51, RATE, 80))
    notice = output.check()
    assert notice.kind == "error" and name in notice.sentence and notice.sentence.endswith("The built-in sound plays.")
    assert output.check() is None


def test_who_makes_them_may_die(make):
    """What was made stays, what was not sounds plainly, nothing waits."""
    maker = make()
    maker.ask(SHELL)
    wait_for(maker, SHELL)
    maker._process.kill()
    maker._process.wait()
    later = SHELL._replace(note=44)
    maker.ask(later)
    maker._thread.join(PATIENCE)
    assert maker.get(later) is None and maker.get(SHELL) is not None
    assert BuiltinOutput(maker=maker)._samples(Sound("note_on", 1, 44, 80, "left")) is render("left", 44, RATE, 80)


def test_another_soundfont_ends_what_made_notes_by_the_one_before(tmp_path):
    """And the same wish goes on with the same process, whatever device plays."""
    first = note_maker(str(tmp_path / "notes"), "", RATE)
    first.ask(SHELL)
    made = wait_for(first, SHELL)
    assert note_maker(str(tmp_path / "notes"), "", RATE) is first
    second = note_maker(str(tmp_path / "notes"), str(tmp_path / "grand.sf2"), RATE)
    assert first._process.poll() is not None and first.get(SHELL) is made
    second.close()


def test_every_wish_says_itself_in_a_line():
    for wanted in (SHELL, Wanted("click", 77, 112, True, 0, True), Wanted("right", 0, 1)):
        assert Wanted.read(wanted.line()) == wanted


# --- how loud a SoundFont is


@pytest.fixture(scope="module")
def sampled():
    made = Instruments(NoteFiles(None), RATE, str(general_midi()))
    yield made
    made.close()


@needs_fluidsynth
@pytest.mark.parametrize(
    ("wanted", "of_ours"),
    [
        (Wanted("left", 55, 80, program=1), ("left", 55)),
        (Wanted("bass", 33, 80, program=33), ("bass", 33)),
        (Wanted("click", 77, 80, False, 0, True), ("click", 0)),
        (Wanted("drums", 51, 80, False, 0, True), ("drums", 51)),
    ],
)
def test_each_instrument_is_as_loud_as_the_voice_it_stands_for(sampled, wanted, of_ours):
    """So the balance of hand, bass and click stays what it was; the energy of the first half second, each at its velocity."""
    sound, own = sampled.note(wanted) / 32767, voices.render(*of_ours)
    energy = np.sum(sound[:, : RATE // 2] ** 2) / 2
    assert 10 * np.log10(energy / np.sum(own[: RATE // 2].astype(float) ** 2)) == pytest.approx(0, abs=0.5)


@needs_fluidsynth
def test_velocity_is_heard_once(sampled):
    """What plays it makes it softer by its velocity; the SoundFont's own softness is taken off."""
    levels = [np.abs(sampled.note(Wanted("left", 48, velocity, program=1))[:, :RATE]).mean() for velocity in (48, 112)]
    assert levels[0] == pytest.approx(levels[1], rel=0.35)
    assert velocity_gain(48) < 0.2 < 0.7 < velocity_gain(112)
