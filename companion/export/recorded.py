"""A recorded performance as sound: both hands by the piano that the settings say, in a file beside its MIDI file."""

from __future__ import annotations

from pathlib import Path

from companion.base.files import write_whole
from companion.base.text import shown
from companion.errors import WriteError
from companion.export.audio_file import Tags, encoded
from companion.export.track import RATE, NoSoundFont, mix
from companion.groove.timeline import timeline
from companion.session.recorded import TEMPO_BPM, recorded_arrangement
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.store.performances import Kept, sound_beside
from companion.store.settings import Settings


def write_sound(kept: Kept, stand: Stand, settings: Settings) -> Path:
    """Raises ExportError where no encoder is there or it lasts too long, WriteError, TakeError."""
    path = sound_beside(kept.path)
    played = timeline(recorded_arrangement(read_recording(kept.path).presses), [TEMPO_BPM])
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
