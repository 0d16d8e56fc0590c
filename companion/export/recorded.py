"""A recorded performance as sound: both hands by the piano that the settings say and the bass that played along, without the click, in a file beside its MIDI file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from companion.base.files import write_whole
from companion.base.text import shown
from companion.errors import WriteError
from companion.export.audio_file import Tags, encoded
from companion.export.track import RATE, NoSoundFont, mix
from companion.groove.timeline import Timeline, timeline
from companion.session.performance import chosen_choruses, performance
from companion.session.recorded import TEMPO_BPM, TICKS_PER_S, recorded_arrangement
from companion.session.stand import Stand
from companion.session.take_file import Recording, read_recording
from companion.store.performances import Kept, sound_beside
from companion.store.settings import Settings


def write_sound(kept: Kept, stand: Stand, settings: Settings) -> Path:
    """stand: what was performed. Raises ExportError where no encoder is there or it lasts too long, WriteError, TakeError."""
    path = sound_beside(kept.path)
    recording = read_recording(kept.path)
    played = with_bass(timeline(recorded_arrangement(recording.presses), [TEMPO_BPM]), recording, stand)
    try:
        samples = mix(played, sound=settings.sound)
    except NoSoundFont:  # which was said when the companion started
        samples = mix(played)
    tags = Tags(shown(stand.song.title), stand.tempo_bpm, stand.key.name, " ".join(kept.words))
    try:
        write_whole(path, encoded(samples, RATE, path.suffix, tags), follow=False)
    except OSError as error:
        raise WriteError(f"{path} cannot be written: {error.strerror}. The performance itself is kept.") from None
    return path


def with_bass(hands: Timeline, recording: Recording, stand: Stand) -> Timeline:
    """The hands as recorded, from the first key on, and the bass as it was heard with them: by the click's time, which began with the count-in, up to where that ends."""
    tune = performance(stand)
    if tune.bass == "off" or not recording.clicks_s:
        return hands
    whole = timeline(replace(tune, parts=("bass",)), [stand.tempo_bpm] * chosen_choruses(stand))
    counted_s, until_s = recording.clicks_s[0], recording.clicks_s[-1] + 30.0 / stand.tempo_bpm
    first_s = min(press.time_s for press in recording.presses)
    bass = [event for event in whole.events if event.part == "bass"]  # and not what counts in
    starts, ends = (
        [counted_s + second - first_s for second in whole.seconds(ticks)]
        for ticks in ([each.tick for each in bass], [each.tick + each.ticks for each in bass])
    )
    heard = [each for each in zip(bass, starts, ends, strict=True) if each[1] <= until_s - first_s]
    before = round(max([0.0, *(-start for _, start, _ in heard)]) * TICKS_PER_S)
    events = [replace(event, tick=event.tick + before) for event in hands.events]
    for event, start, end in heard:
        tick = before + round(start * TICKS_PER_S)
        events.append(replace(event, tick=tick, ticks=round((end - start) * TICKS_PER_S)))
    end_tick = max(hands.end_tick + before, *(event.tick + event.ticks for event in events))
    return replace(hands, events=tuple(sorted(events, key=lambda event: event.tick)), end_tick=end_tick)
