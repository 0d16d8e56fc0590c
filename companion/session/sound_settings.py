"""From the settings to the sound process's configuration: the log and the sound room never meet but here."""

from __future__ import annotations

from dataclasses import replace

from companion.sound.messages import SoundConfig, Voice
from companion.store.settings import Settings


def sound_config(
    settings: Settings, *, mode: str = "", midi_out: str = "", trace: str = "", kept: str = ""
) -> SoundConfig:
    """The settings with a command's own wishes over them. Naming a MIDI port asks for MIDI. kept: the folder where notes are kept."""
    sound = settings.sound
    config = SoundConfig(
        mode=sound.mode,
        midi_out=sound.midi_out,
        midi_in=sound.midi_in,
        api=sound.api,
        audio_backend=sound.audio,
        trace=trace,
        soundfont=sound.soundfont,
        kept=kept,
        voices={
            name: Voice(voice.channel, voice.program, voice.note, voice.accent_note, voice.volume)
            for name, voice in sound.voices.items()
        },
    )
    if midi_out:
        config = replace(config, midi_out=midi_out, mode="midi")
    return replace(config, mode=mode) if mode else config
