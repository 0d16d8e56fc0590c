"""Which output sounds, and why, in a sentence for the student. One function decides; another opens what was decided."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass

from companion.sound.messages import SoundConfig
from companion.sound.midi import Port, Rtmidi, binding_fault, list_ports, pick_output
from companion.sound.midi_out import MidiOutput
from companion.sound.outputs import Output, SilentOutput
from companion.sound.watchdog import system_name

NO_DEVICE = "No sound device was found"
NO_BUILTIN = "There is no built-in sound for this kind of computer"
_WATCH = "playing silently, watch the beat."


@dataclass(frozen=True, slots=True)
class OutputChoice:
    """kind: "builtin", "midi" or "silent". port: for "midi". sentence: what sounds and why."""

    kind: str
    sentence: str
    port: Port | None = None


def decide(
    config: SoundConfig, ports: tuple[Port, ...] | None, has_audio: Callable[[], bool], has_library: bool = True
) -> OutputChoice:
    """What the configuration and the machine come to.

    ports: the MIDI outputs there are, None where no MIDI library is installed. has_audio: asked only where it
    matters, as the answer takes a while. has_library: whether that of the built-in sound is installed. Automatic
    means: the MIDI port asked for by name, else an audio device, else the first MIDI port that is not a loop-through,
    else silence.
    """
    if config.mode == "silent":
        return OutputChoice("silent", "Playing silently, as you asked: watch the beat.")
    port = pick_output(ports or (), config.midi_out)
    if config.mode == "midi":
        return _midi(config, ports, port)
    missing = ""
    if config.mode == "auto" and config.midi_out:
        if port is not None:
            return OutputChoice("midi", f"Sounding on the MIDI port “{port.name}”, as you asked.", port)
        missing = f"{_no_port(config, ports)} "
    if has_audio():
        reason = "as you asked" if config.mode == "builtin" else "through this computer's sound device"
        return OutputChoice("builtin", f"{missing}Sounding with the built-in sound, {reason}.")
    missing += _no_device(config, has_library)
    if config.mode == "auto" and (port := pick_output(ports or (), "")) is not None:
        return OutputChoice("midi", f"{missing}: sounding on the MIDI port “{port.name}”.", port)
    return OutputChoice("silent", f"{missing}: {_WATCH}")


def _midi(config: SoundConfig, ports: tuple[Port, ...] | None, port: Port | None) -> OutputChoice:
    if port is None:
        return OutputChoice("silent", f"{_no_port(config, ports)} Playing silently, watch the beat.")
    reason = "as you asked" if config.midi_out else "the first one found"
    return OutputChoice("midi", f"Sounding on the MIDI port “{port.name}”, {reason}.", port)


def _no_device(config: SoundConfig, has_library: bool) -> str:
    if not has_library:
        return NO_BUILTIN
    return f"{system_name(config.avoid[-1])} does not answer" if config.avoid else NO_DEVICE


def _no_port(config: SoundConfig, ports: tuple[Port, ...] | None) -> str:
    if ports is None:
        return f"MIDI is off: {binding_fault()}."
    there = ", ".join(f"“{port.name}”" for port in ports if not port.is_loop_through)
    wanted = f"No MIDI port has “{config.midi_out}” in its name" if config.midi_out else "No MIDI port was found"
    return f"{wanted}; there are: {there}." if there and config.midi_out else f"{wanted}."


def output_ports(binding: Rtmidi | None, api: str) -> tuple[Port, ...] | None:
    """Every MIDI output there is, None without a MIDI library."""
    if binding is None:
        return None
    return tuple(port for ports in list_ports(binding, False, api).values() for port in ports)


def has_library() -> bool:
    """Whether the library of the built-in sound is installed; it has no wheel for some processors."""
    return importlib.util.find_spec("miniaudio") is not None


def choose_output(config: SoundConfig, binding: Rtmidi | None) -> tuple[Output, str]:
    """Open what `decide` comes to. Returns the output and the sentence about it; never raises for a missing device."""
    needs_ports = config.mode in ("auto", "midi")
    ports = output_ports(binding, config.api) if needs_ports else ()
    opened: list[Output] = []

    def has_audio() -> bool:
        from companion.sound.builtin import open_builtin  # miniaudio and numpy: 150 ms
        from companion.sound.making import note_maker
        from companion.sound.voices import SAMPLE_RATE

        has_maker = config.kept or config.soundfont
        maker = note_maker(config.kept, config.soundfont, SAMPLE_RATE) if has_maker else None
        if (output := open_builtin(config.audio_backend, config.avoid, maker)) is not None:
            opened.append(output)
        return output is not None

    choice = decide(config, ports, has_audio, has_library())
    if choice.kind == "builtin":
        return opened[0], choice.sentence
    if choice.port is None or binding is None:
        return SilentOutput(), choice.sentence
    output = MidiOutput(binding, choice.port, config.voices, config.midi_out)
    if output.kind == "midi":
        return output, choice.sentence
    return output, f"The MIDI port “{choice.port.name}” could not be opened: playing silently until it can."
