"""The stand's export is for the hands that play there, with no key more; one key takes others. The left hand alone is asked nothing."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest
from tui.conftest import screen_text, until

from companion.chart.reader import read_chart
from companion.export.formats import FORMATS, export

SONG = read_chart(Path(__file__).parents[2] / "songs" / "left-sock-blues.toml")
SIZE = (80, 24)
MUSICXML = [kind.ending for kind in FORMATS].index(".musicxml")


@pytest.fixture
def written(monkeypatch):
    """(stand, path, options) of each export; the file is written here and now."""
    calls = []

    def write(stand, path, options, settings):
        calls.append((stand, path, options))
        return export(stand, path, options, settings)

    monkeypatch.setattr("companion.export.apart.export_apart", write)
    return calls


def tracks(path: Path) -> set[str]:
    return {track.name for track in mido.MidiFile(path).tracks if any(m.type == "note_on" for m in track)}


async def exported(pilot, written, *keys: str) -> Path:
    """The file, once it is written."""
    pilot.app.unsay()
    before = len(written)
    await pilot.press("o", "e", *keys, "enter", "enter")
    app = pilot.app
    await until(pilot, lambda: len(written) > before and ("Written" in app.notice or app.place != "stand"))
    if app.place != "stand":  # a long path is shown on a page
        await pilot.press("escape")
    return written[-1][1]


async def test_the_left_hand_alone_is_asked_nothing(started, written):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "e")
        await pilot.pause()
        assert "Export what?" in screen_text(app)
        await pilot.press("escape")
        path = await exported(pilot, written, "h")
    options = written[0][2]
    assert options.hands is None and options.parts is None and path.name == "left-sock-blues.mid"


async def test_a_track_leaves_out_the_hands_that_play_and_a_score_has_their_fingers(started, written):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        for hands, rest, more, name, heard in (
            ("both", False, 0, "both hands", {"bass", "click"}),
            ("right", False, 0, "right hand", {"left hand", "bass", "click"}),
            ("left", True, 0, "left hand", {"melody", "bass", "click"}),
            ("both", False, 1, "neither hand", {"left hand", "melody", "bass", "click"}),
        ):
            app.screen.change(lambda stand, to=(hands, rest): stand.with_hands(*to))
            await pilot.press("o", "e", *["h"] * more)
            await pilot.pause()
            assert f"Export what? You play: {name} (h: others)" in screen_text(app)
            await pilot.press("escape")
            path = await exported(pilot, written, *["h"] * more)
            stem = "" if more else f"-{name.replace(' ', '-')}"
            assert path.name == f"left-sock-blues{stem}.mid" and tracks(path) == heard
        score = (await exported(pilot, written, *["down"] * MUSICXML)).read_text(encoding="utf-8")
        assert '<fingering placement="above">' in score and '<fingering placement="below">' in score  # melody, shells
        app.screen.change(lambda stand: stand.change(bass="off"))
        assert tracks(await exported(pilot, written)) == {"click"}, "what is off on the stand"


async def test_the_whole_song_goes_out_unless_the_loop_is_asked_for(started, written):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        app.screen.change(lambda stand: stand.with_loop((0, 1), "bars 1-2"))
        await pilot.press("o", "e")
        await pilot.pause()
        assert "Export the whole song (l: bars 1-2)" in screen_text(app)
        await pilot.press("l")
        await pilot.pause()
        assert "Export bars 1-2 (l: the whole song)" in screen_text(app)
        await pilot.press("escape")
        whole = await exported(pilot, written)
        assert whole.name == "left-sock-blues.mid" and len(written[0][0].loop) == len(written[0][0].bars)
        assert app.screen.stand.loop == (0, 1), "the stand keeps its loop"
        part = await exported(pilot, written, "l")
        assert part.name == "left-sock-blues-bars-1-2.mid" and written[1][0].loop == (0, 1)


async def test_what_was_written_is_shown_in_full_and_one_key_opens_its_folder(started, written, monkeypatch, tmp_path):
    opened = []
    monkeypatch.setattr("companion.tui.app.open_folder", lambda folder: opened.append(folder) or "")
    app, _ = started
    far = tmp_path / "a folder with a name that is so long that no line of a small window holds it" / "sheets"
    far.mkdir(parents=True)
    app._started = far
    async with app.run_test(size=SIZE) as pilot:
        app.put_song(SONG)
        await pilot.pause()
        await pilot.press("o", "e", "enter", "enter")
        await until(pilot, lambda: app.place == "" and "open its folder" in screen_text(app))
        page = "".join(line.strip(" │") for line in screen_text(app).splitlines())
        assert str(far / "left-sock-blues.mid").replace(" ", "") in page.replace(" ", "")
        await pilot.press("o")
        await until(pilot, lambda: opened == [far] and "Opened: " in app.notice)
        assert app.place == "stand"
        await pilot.press("o", "o")
        await until(pilot, lambda: opened == [far, far])
