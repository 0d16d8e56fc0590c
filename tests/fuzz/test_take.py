"""Takes, recorded elsewhere as MIDI files: whatever a file holds, its notes or a TakeError; then marks, or that the song is not in it."""

from __future__ import annotations

import itertools
import struct
from collections.abc import Sequence
from difflib import SequenceMatcher
from random import Random

import pytest
from fuzz.fuzzing import DEEP, Make, any_bytes, edited, fuzz, inputs, one_of, then

from companion.groove.strikes import bar_strikes
from companion.practice.model import Press
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.session.take_marks import mark_recording
from companion.store.library import find_song

# --- files written byte by byte (Standard MIDI Files 1.0, "Chunks" and "MTrk events")


def number(value: int) -> bytes:
    """A variable-length quantity."""
    signs = [value & 0x7F]
    while value := value >> 7:
        signs.append(value & 0x7F | 0x80)
    return bytes(reversed(signs))


def chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack(">I", len(data)) + data


def file_of(tracks: list[bytes], kind: int = 1, division: int = 480, count: int | None = None) -> bytes:
    head = struct.pack(">HHH", kind, len(tracks) if count is None else count, division)
    return chunk(b"MThd", head) + b"".join(chunk(b"MTrk", track) for track in tracks)


def tempo(microseconds: int) -> bytes:
    return b"\0\xff\x51\x03" + microseconds.to_bytes(3, "big")


def shells(pairs: Sequence[tuple[int, ...]], ticks: int = 480) -> bytes:
    """Shells one after the other, running status throughout."""
    data = b"\0\x90\x40\0"
    for low, high in pairs:
        data += b"".join(
            (b"\0", bytes((low, 70)), b"\0", bytes((high, 64)), number(ticks), bytes((low, 0)), b"\0", bytes((high, 0)))
        )
    return data


END = b"\0\xff\x2f\0"


def takes_of(hand: Sequence[tuple[int, ...]]) -> list[bytes]:
    """The left hand of a song, a quarter a strike: as it is; with a click; at once, under a time code; its first three bars, with words about
    them."""
    click = b"\0\x99\x25\x40" + (number(240) + b"\x25\x40") * (len(hand) - 1)
    about = b"\0\xff\x03\x05Piano\0\xf0\x03\x7e\x09\xf7\0\xc0\0\0\xb0\x40\x7f\0\xe0\0\x40\0\xff\x58\x04\x04\x02\x18\x08"
    half = len(hand) // 2
    return [
        file_of([shells(hand) + END], kind=0),
        file_of([tempo(500_000) + END, shells(hand, 240) + END, click + END]),
        # Ticks of 1/1000 s, whatever tempo is told.
        file_of([tempo(1) + shells(hand[:half]) + tempo(0xFFFFFF) + shells(hand[half:]) + END], division=0xE728),
        file_of([about + shells(hand[:12]) + END]),
    ]


EVENTS = (
    b"\0\x90\x29\x40", b"\x83\x60\x32\x40", b"\0\x80\x29\x40", b"\0\x29\x40", b"\0\xff\x51\x03\0\0\0", b"\0\xff\x51\x03\xff\xff\xff", b"\0\xff\x51\0",
    b"\0\xff\x51\x04\1\2\3\4", b"\0\xff\x2f\0", b"\0\xff\x58\x04\x04\x02\x18\x08", b"\0\xff\x59\x02\x7f\x01", b"\0\xff\x59\x02\x80\x05", b"\0\xff\x03\x04\x1b[2J",
    b"\0\xff\x03\x03\xff\xfe\xfd", b"\0\xff\x54\x05\x60\0\0\0\0", b"\0\xff\x00\x02\0\1", b"\0\xff\x20\x01\x10", b"\0\xff\x21\x01\xff", b"\0\xff\x7f\xff\xff\xff\x7f",
    b"\0\xf0\x02\x41\xf7", b"\0\xf0\xff\xff\xff\x7f\x41", b"\0\xf7\x01\xf8", b"\0\xf1\x01", b"\0\xf2\1\2", b"\0\xf4", b"\0\xf8", b"\0\xfe", b"\xff\xff\xff\x7f\x90\x29\x40",
    b"\xff\xff\xff\xff\xff\xff\x7f\x90\x29\x40", b"\0\x90\xff\xff", b"\0\x99\x29\x40", b"\0\xc0\x7f", b"\0\xe0\0\0", b"\0\xb0\x40\x7f", b"MTrk", b"MThd", b"\0\0\0\x06",
    b"\xff\xff\xff\xff", b"\x80\0", b"RIFF", b"\0",
)  # fmt: skip
DIVISIONS = (1, 24, 480, 480, 32767, 0, 0x8000, 0x80FF, 0xE200, 0xE728, 0xE764, 0xFFFF)


def written(random: Random) -> bytes:
    """A file of events in any order, under a head that says what it likes."""
    tracks = [
        b"".join(random.choice(EVENTS) for _ in range(random.randint(0, 20))) for _ in range(random.randint(0, 4))
    ]
    kind = random.choice((0, 0, 1, 1, 1, 2, 3, 65535))
    return file_of(tracks, kind, random.choice(DIVISIONS), random.choice((None, None, None, 0, 1, 65535)))


def files(good: list[bytes]) -> Make[bytes]:
    return one_of(
        edited(good, EVENTS),
        edited(good, EVENTS),
        written,
        any_bytes(),
        then(any_bytes(100), b"MThd\0\0\0\x06".__add__),
        then(any_bytes(100), lambda data: file_of([data])),
    )


@pytest.fixture
def stand(paths, settings) -> Stand:
    return Stand.put(find_song("left-sock-blues", paths, settings), settings).change(pattern="four")


@pytest.fixture
def good(stand) -> list[bytes]:
    return takes_of([strike.notes for bar in stand.arrangement().bars for strike in bar_strikes("four", bar, "left")])


def test_the_good_takes_are_good(good, stand, tmp_path):
    """Played to the tick: every chord right, and none where no bar was played."""
    path = tmp_path / "take.mid"
    for data, bars in zip(good, (12, 12, 12, 3)):
        path.write_bytes(data)
        (marked,) = mark_recording(stand, read_recording(path)).passes
        assert all(chord.is_right for chord in marked.marks.chords) and not marked.marks.extra and not marked.events
        assert [*dict.fromkeys(chord.index for chord in marked.marks.chords)] == list(range(bars))


def test_any_take(good, tmp_path, deep, tell):
    path = tmp_path / "take.mid"

    def read(data: bytes) -> None:
        path.write_bytes(data)
        presses = read_recording(path).presses
        assert presses
        assert all(before.time_s <= after.time_s for before, after in itertools.pairwise(presses))
        assert all(0 <= press.note <= 127 and 0 < press.velocity <= 127 for press in presses)

    tally = fuzz("MIDI take", read, inputs(files(good)), DEEP if deep else 300, fixed=deep)
    tell(tally)
    assert tally.good


# A take of which so much is still there note by note, at its distance from the note before, is still one of the song.
MOSTLY = 0.8


def score(presses: Sequence[Press]) -> list[tuple[int, int]]:
    """Each note, and how many ms after the one before it came."""
    times = [press.time_s for press in presses]
    return [
        (round(1000.0 * (at_s - before_s)), press.note) for before_s, at_s, press in zip([0.0, *times], times, presses)
    ]


def test_any_take_is_marked(good, stand, tmp_path, deep, tell):
    """Looking for a song in a take goes on for long where it is not, so fewer are tried."""
    path = tmp_path / "take.mid"
    scores = []
    for data in good:
        path.write_bytes(data)
        scores.append(score(read_recording(path).presses))
    mostly_there = 0

    def read(data: bytes) -> None:
        nonlocal mostly_there
        path.write_bytes(data)
        recording = read_recording(path)
        marked = mark_recording(stand, recording)
        heard = score(recording.presses)
        is_there = any(SequenceMatcher(None, whole, heard, False).ratio() >= MOSTLY for whole in scores)
        mostly_there += is_there
        assert marked.passes if marked else not is_there

    tally = fuzz(
        "MIDI take, marked",
        read,
        inputs(edited(good, EVENTS)),
        DEEP // 10 if deep else 40,
        fixed=deep,
        longest_s=20.0,
    )
    tell(tally)
    assert mostly_there
