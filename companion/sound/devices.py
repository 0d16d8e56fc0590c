"""What there is to play on and to listen to, and what will be used: for `companion devices`.

Looking happens in a process of its own: ALSA and JACK write to descriptor 2 from C whenever something is missing.
"""

from __future__ import annotations

import multiprocessing
from dataclasses import dataclass
from multiprocessing.connection import Connection

from companion.errors import SoundError
from companion.sound import spawn
from companion.sound.messages import SoundConfig
from companion.sound.midi import Port

TIMEOUT_S = 20.0
API_NAMES = {"alsa": "ALSA", "jack": "JACK", "core": "Core MIDI", "windows": "Windows MIDI"}


@dataclass(frozen=True, slots=True)
class DeviceReport:
    """binding: the MIDI library, "" without one. apis: those the system has now. outputs and inputs: their ports. audio: names
    of the audio devices, the one that is used first; audio_backend: through what. kind: of the output that will be used
    ("builtin", "midi", "silent"); sentence: which and why. listening: the inputs that will be heard; input_sentence: why."""

    binding: str
    apis: tuple[str, ...]
    outputs: tuple[Port, ...]
    inputs: tuple[Port, ...]
    audio: tuple[str, ...]
    audio_backend: str
    kind: str
    sentence: str
    listening: tuple[Port, ...]
    input_sentence: str


def describe_devices(config: SoundConfig) -> DeviceReport:
    """Look at every API and device present. Raises SoundError where looking itself fails or takes too long."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_describe, args=(theirs, config), name="companion devices", daemon=True)
    spawn.start(process)
    theirs.close()
    try:
        if not ours.poll(TIMEOUT_S):
            raise SoundError(
                "The sound devices did not answer within 20 seconds. Unplug the last one added and try again."
            )
        return ours.recv()
    except (EOFError, OSError):  # OSError: what Windows raises for a pipe whose other end is gone
        raise SoundError("The sound devices could not be listed: the system's sound library failed.") from None
    finally:
        process.terminate()
        process.join()
        ours.close()


def _describe(connection: Connection, config: SoundConfig) -> None:
    from companion.sound.process import quieten

    quieten()
    connection.send(look(config))


def look(config: SoundConfig) -> DeviceReport:
    """The report itself, made in this process."""
    from companion.sound.choice import decide, has_library
    from companion.sound.midi import list_ports, load_binding, pick_inputs

    binding = load_binding()
    outputs, inputs = list_ports(binding, False), list_ports(binding, True)
    audio_backend, audio = _audio(config.audio_backend)
    usable = tuple(port for api, ports in outputs.items() for port in ports if config.api in ("", api))
    choice = decide(config, usable if binding else None, lambda: bool(audio), has_library())
    heard = pick_inputs(
        [port for api, ports in inputs.items() for port in ports if config.api in ("", api)], config.midi_in
    )
    return DeviceReport(
        binding=binding.name if binding else "",
        apis=tuple(outputs),
        outputs=tuple(port for ports in outputs.values() for port in ports),
        inputs=tuple(port for ports in inputs.values() for port in ports),
        audio=audio,
        audio_backend=audio_backend,
        kind=choice.kind,
        sentence=choice.sentence,
        listening=heard,
        input_sentence=_listening(config, heard, binding is not None),
    )


def _listening(config: SoundConfig, heard: tuple[Port, ...], has_midi: bool) -> str:
    if not has_midi:
        return "No keyboard can be heard: no MIDI library for this Python is installed."
    if heard:
        reason = "as you asked" if config.midi_in else "every keyboard there is"
        return f"Listening to {', '.join(f'“{port.name}”' for port in heard)}, {reason}."
    if config.midi_in:
        wanted = " or ".join(f"“{part}”" for part in config.midi_in)
        return f"No MIDI keyboard has {wanted} in its name. You say yourself how it went."
    return "No MIDI keyboard was found. You say yourself how it went."


def _audio(backend: str) -> tuple[str, tuple[str, ...]]:
    """The back end that a device really opens on and the names of its devices; empty without one."""
    from companion.sound.builtin import open_builtin

    output = open_builtin(backend)
    if output is None:
        return "", ()
    import miniaudio

    name = output.device.backend
    output.close()
    kind = next((kind for kind in miniaudio.Backend if kind.name == name.upper().replace(" ", "")), None)
    try:
        devices = miniaudio.Devices([kind] if kind else None).get_playbacks()
    except miniaudio.MiniaudioError:  # it plays but cannot be listed
        devices = []
    return name, tuple(device["name"] for device in devices) or (name,)
