"""The microphone in the app: off until a yes, a sign while it is on, off with a keyboard, checked by three notes, its end told in a sentence."""

import time
from types import SimpleNamespace

import pytest
from tui.conftest import drawn, screen_text
from tui.mill import put_mill

import companion.session.microphone as microphone_module
from companion.hands.hand import pitch_name
from companion.sound.listening.level import HUM, SILENT
from companion.sound.listening.link import DIED
from companion.sound.listening.live import NO_MICROPHONE
from companion.sound.listening.messages import (
    Await,
    EchoMeasured,
    Learn,
    LevelHeard,
    MicrophoneOff,
    MicrophoneReady,
    NoteLearned,
    PianoChecked,
    PianoLearned,
    StrokeHeard,
)
from companion.sound.listening.verdicts import CHECKED, RIGHT, HeardNote, StrokeVerdict
from companion.sound.messages import Keyboards
from companion.store.pianos import write_piano
from companion.store.settings import load_settings
from companion.tui.draw.microphone import ask_page, done_page, echo_page, level_page, notes_page
from companion.tui.keymap import Keymap
from companion.tui.microphone import HAS_KEYBOARD, SIGN
from companion.tui.widgets.foot import Foot

SIZE = (80, 24)
ON = SIGN.strip()


class FakeLink:
    """In place of the process: what it was sent, and whatever it is to report."""

    made: list["FakeLink"]

    def __init__(self, config, tell, log) -> None:
        self.config, self.tell, self.sent, self.stopped = config, tell, [], False
        self.made.append(self)

    def start(self) -> None:
        self.tell(MicrophoneReady(0.2))

    def send(self, message) -> None:
        self.sent.append(message)

    def stop(self) -> None:
        self.stopped = True

    def close(self) -> None:
        self.stopped = True


@pytest.fixture
def links(monkeypatch):
    monkeypatch.setattr(FakeLink, "made", [], raising=False)
    monkeypatch.setattr(microphone_module, "MicrophoneLink", FakeLink)
    monkeypatch.setattr("companion.sound.played.Played", lambda: SimpleNamespace(name="memory", remove=lambda: None))
    return FakeLink.made


def foot(app) -> str:
    return drawn(app, "foot")


async def test_from_the_question_to_a_piano_that_is_known_again(kit, mill_app, links):
    app, sound = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        assert not links and ON not in foot(app), "off until a yes"
        await pilot.press("f12", "f12", "escape")
        await pilot.pause()
        assert "stays off" in screen_text(app) and "May the companion" not in screen_text(app) and not links
        await pilot.press("f12")
        await pilot.pause()
        assert "May the companion listen" in screen_text(app) and not links
        await pilot.press("enter")
        await pilot.pause()
        assert len(links) == 1 and ON in foot(app) and load_settings(app.paths).listening.microphone
        (link,) = links
        link.tell(LevelHeard(-40.0, -30.0, -44.0, HUM, True))
        await pilot.pause()
        assert "It hums" in screen_text(app)
        await pilot.press("enter", "space")
        link.tell(EchoMeasured(4.0, b"", False, True))
        await pilot.pause()
        assert "headphones, please" in screen_text(app) and load_settings(app.paths).listening.headphones
        await pilot.press("h")
        link.tell(NoteLearned(40, 41, 0.0, 40, True))
        await pilot.pause()
        assert "That was F2: once more E2, please." in screen_text(app)
        link.tell(PianoLearned("my piano", b"figures", -3.0))
        await pilot.pause()
        assert "3 cents below" in screen_text(app) and load_settings(app.paths).listening.piano == "my piano"
        await pilot.press("enter", "f12")
        await pilot.pause()
        assert ON not in foot(app) and link.stopped and not load_settings(app.paths).listening.microphone
        await pilot.press("f12")
        await pilot.pause()
        again = links[-1]
        assert again is not link and again.sent[-1] == Learn(CHECKED) and again.config.piano == b"figures"
        assert "play C3 softly" in foot(app), "as long as the check waits"
        again.tell(NoteLearned(48, 48, 0.0, 53, False))
        await pilot.pause()
        assert "play F3 softly" in foot(app)
        again.tell(PianoChecked(False, 21.0))
        await pilot.pause()
        assert "+21 cents: learn it anew" in screen_text(app) and ON in foot(app)
        sound.report(Keyboards(("Grand",), ("Grand",)))
        await pilot.pause()
        assert again.stopped and ON not in foot(app), "a keyboard is heard"
        await pilot.press("f12")
        await pilot.pause()
        assert HAS_KEYBOARD in " ".join(screen_text(app).split())
        sound.report(Keyboards((), ()))
        await pilot.pause()
        links[-1].tell(MicrophoneOff(DIED))
        await pilot.pause()
        assert DIED in " ".join(screen_text(app).split()) and ON not in foot(app)
        await pilot.press("f12")
        await pilot.pause()
        await pilot.press("m", "d")
        await kit.play(pilot, sound, kit)
        assert foot(app).strip() == ON, "in the dark too"


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 40)])
def test_every_page_fits_with_its_longest_words(width, height):
    pages = [
        ask_page(width),
        level_page(
            LevelHeard(-120.0, -120.0, -120.0, SILENT),
            True,
            "",
            ["one", "two"],
            "the upright in the hall of the house by",
            width,
        ),
        level_page(None, False, NO_MICROPHONE, [], "", width),
        echo_page(EchoMeasured(3.0, b"", False, True), False, True, width),
        notes_page(63, NoteLearned(63, None, 0.0, 63, True), "the upright in the hall of the house by", width),
        done_page(-31.0, "the upright in the hall of the house by", width),
    ]
    for rows in pages:
        assert len(rows) <= height - 2
        assert max(sum(len(text) for text, _ in row) for row in rows) <= width
    assert any(pitch_name(63)[0] in text for row in pages[4] for text, _ in row)


async def test_a_microphone_that_is_not_there_is_tried_again_and_a_piano_chosen(mill_app, links):
    app, _ = mill_app
    for name in ("hall", "upright"):
        write_piano(app.paths, name, b"figures of " + name.encode())
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f12", "enter")
        links[-1].tell(MicrophoneOff(NO_MICROPHONE))
        await pilot.pause()
        assert "plug one in" in screen_text(app) and "try again" in foot(app) and ON not in foot(app)
        await pilot.press("enter")
        links[-1].tell(LevelHeard(-60.0, -60.0, -60.0))
        await pilot.pause()
        assert len(links) == 2 and "Now play." in screen_text(app)
        await pilot.press("p", "down", "enter")
        await pilot.pause()
        assert load_settings(app.paths).listening.piano == "upright" and "“upright”" in screen_text(app)
        assert links[-1].sent[-1].config.piano == b"figures of upright"
        await pilot.press("escape", "f12", "f12")
        await pilot.pause()
        assert "play C3 softly" in foot(app)
        await pilot.press("f5", "m")
        await pilot.pause()
        assert ON in foot(app), "the page asks for notes itself"


@pytest.mark.parametrize("place", ["songs", "stand", "keyboards", "microphone"])
def test_no_width_leaves_the_sign_out(place):
    keymap = Keymap()

    class SignedFoot(Foot):
        _sign = SIGN

    for width in range(40, 200):
        (row,) = SignedFoot(keymap, place).picture(width, 1)
        assert "".join(text for text, _ in row).endswith(SIGN) and sum(len(text) for text, _ in row) == width


def told_right(link) -> tuple[int, ...]:
    """The shell that is waited for is struck; its notes."""
    awaited = next(each.awaited for each in reversed(link.sent) if isinstance(each, Await))
    heard = tuple(HeardNote(note, 0.99) for note in awaited.notes)
    now_s = time.perf_counter()
    link.tell(StrokeHeard(StrokeVerdict(awaited.number, RIGHT, heard, now_s - 0.2, 0.99), now_s))
    return awaited.notes


async def test_free_time_and_names_are_heard_by_it(mill_app, links):
    app, _ = mill_app
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f12", "enter")
        await pilot.pause()
        await pilot.press("escape", "m")
        await pilot.pause()
        assert "needs a keyboard" not in screen_text(app)
        await pilot.press("f", "space")
        await pilot.pause()
        conductor, (link,) = app.conductor, links
        first = conductor.state.waiting
        assert told_right(link) == first.notes
        await pilot.pause()
        assert conductor.state.signs[first.index, first.chord].verdict == "right"
        await pilot.press("space", "m", "n", "space")
        await pilot.pause()
        assert "Strike its shell." in screen_text(app)
        told_right(link)
        await pilot.pause()
        assert " 2 of " in screen_text(app)
