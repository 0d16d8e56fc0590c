"""A performance as sound: hands and bass as they were heard together, the click left out."""

from __future__ import annotations

import pytest
from desk import put
from performed import Evening
from session_songs import SUNG_FOUR

from companion.arranging.choice import ArrangementChoice
from companion.export.recorded import with_bass
from companion.groove.timeline import timeline
from companion.session.performed import keep_and_mark
from companion.session.recorded import TEMPO_BPM, recorded_arrangement
from companion.session.take_file import read_recording
from companion.store.paths import find_paths


def heard(evening, paths):
    """(second from the first that is heard, part, key) of what the sound file has."""
    stand = evening.performing.stand
    recording = read_recording(keep_and_mark(stand, evening.performing.performed, paths).path)
    played = with_bass(timeline(recorded_arrangement(recording.presses), [TEMPO_BPM]), recording, stand)
    seconds = played.seconds(event.tick for event in played.events)
    assert played.end_tick >= max(event.tick + event.ticks for event in played.events)
    return [(second, event.part, event.note) for second, event in zip(seconds, played.events, strict=True)]


@pytest.mark.parametrize("late_s", [0.0, 0.2])
def test_the_bass_plays_with_the_hands_as_it_did_and_the_click_does_not(settings, tmp_path, late_s) -> None:
    """Who comes in late is heard late."""
    stand = put(SUNG_FOUR, settings, bass="walking").change(
        hands="both", arranged=ArrangementChoice(intro="vamp", ending="tag")
    )
    evening = Evening(stand)
    evening.play("left", "right", late_s=late_s)
    found = heard(evening, find_paths({"COMPANION_HOME": str(tmp_path)}))
    first_s = min(start for start, _, _ in evening.due("bass"))
    for parts, moved_s in ((("bass",), 0.0), (("left", "right"), late_s)):
        due = sorted((key, start + moved_s - first_s) for start, _, key in evening.due(*parts))
        there = sorted((key, second) for second, part, key in found if (part == "bass") is (parts == ("bass",)))
        assert [key for key, _ in there] == [key for key, _ in due]
        assert [second for _, second in there] == pytest.approx([second for _, second in due], abs=0.002)
    assert {part for _, part, _ in found} == {"left", "bass"}


def test_broken_off_the_bass_ends_too_and_switched_off_there_is_none(settings, tmp_path) -> None:
    stand = put(SUNG_FOUR, settings, bass="roots").change(hands="left")
    evening = Evening(stand)
    evening.play("left", until_s=6.0)
    evening.performing.stop()
    found = heard(evening, find_paths({"COMPANION_HOME": str(tmp_path)}))
    assert any(part == "bass" for _, part, _ in found) and max(second for second, *_ in found) < 6.0
    silent = Evening(stand.change(bass="off"))
    silent.play("left")
    assert {part for _, part, _ in heard(silent, find_paths({"COMPANION_HOME": str(tmp_path / "b")}))} == {"left"}
