"""What there is to play on and to listen to, and what will be used: for `companion devices`.

Looking happens in a process of its own: ALSA and JACK write to descriptor 2 from C whenever something is missing.
"""

from __future__ import annotations

import multiprocessing
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection

from companion.errors import SoundError
from companion.sound import spawn
from companion.sound.entering import entering, tell_by
from companion.sound.messages import SoundConfig
from companion.sound.midi import Port
from companion.sound.watchdog import patience_s, system_name

API_NAMES = {"alsa": "ALSA", "jack": "JACK", "core": "Core MIDI", "windows": "Windows MIDI"}


@dataclass(frozen=True, slots=True)
class DeviceReport:
    """binding: the MIDI library, "" without one; binding_fault: why there is none. apis: those the system has now. outputs and inputs: their ports. audio: names
    of the audio devices, the one that is used first; audio_backend: through what. kind: of the output that will be used
    ("builtin", "midi", "silent"); sentence: which and why. listening: the inputs that will be heard; input_sentence: why. unanswered:
    what did not answer and was left out, as the student knows it."""

    binding: str
    binding_fault: str
    apis: tuple[str, ...]
    outputs: tuple[Port, ...]
    inputs: tuple[Port, ...]
    audio: tuple[str, ...]
    audio_backend: str
    kind: str
    sentence: str
    listening: tuple[Port, ...]
    input_sentence: str
    unanswered: tuple[str, ...] = ()


def describe_devices(config: SoundConfig) -> DeviceReport:
    """Look at every API and device present. A system that does not answer (a JACK server that is stopped) is looked past. Raises SoundError
    where looking itself fails or takes too long."""
    unanswered: tuple[str, ...] = ()
    while True:
        found = _describe_once(config)
        if isinstance(found, DeviceReport):
            return replace(found, unanswered=unanswered)
        name = system_name(found)
        if not name or found in config.avoid:
            raise SoundError("The sound devices did not answer. Unplug the last one added and try again.")
        config = replace(config, avoid=(*config.avoid, found))
        unanswered = (*unanswered, name)


def _describe_once(config: SoundConfig) -> DeviceReport | str:
    """The report, or where the process that looked hung (see sound.entering)."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_describe, args=(theirs, config), name="companion devices", daemon=True)
    spawn.start(process)
    theirs.close()
    at = "start"
    try:
        while ours.poll(patience_s(at)):
            said = ours.recv()
            if isinstance(said, DeviceReport):
                return said
            at = said
        return at
    except (EOFError, OSError):  # OSError: what Windows raises for a pipe whose other end is gone
        raise SoundError("The sound devices could not be listed: the system's sound library failed.") from None
    finally:
        process.kill()
        process.join()
        ours.close()


def _describe(connection: Connection, config: SoundConfig) -> None:
    from companion.sound.process import quieten

    quieten()
    tell_by(connection.send, base="start")
    connection.send(look(config))


def look(config: SoundConfig) -> DeviceReport:
    """The report itself, made in this process."""
    from companion.sound.midi import binding_fault, list_ports, load_binding, pick_inputs
    from companion.sound.output_choice import decide, has_library

    binding = load_binding(config.avoid)
    outputs, inputs = list_ports(binding, False), list_ports(binding, True)
    audio_backend, audio = _audio(config.audio_backend, config.avoid)
    usable = tuple(port for api, ports in outputs.items() for port in ports if config.api in ("", api))
    choice = decide(config, usable if binding else None, lambda: bool(audio), has_library())
    heard = pick_inputs(
        [port for api, ports in inputs.items() for port in ports if config.api in ("", api)], config.midi_in
    )
    return DeviceReport(
        binding=binding.name if binding else "",
        binding_fault="" if binding else binding_fault(),
        apis=tuple(outputs),
        outputs=tuple(port for ports in outputs.values() for port in ports),
        inputs=tuple(port for ports in inputs.values() for port in ports),
        audio=audio,
        audio_backend=audio_backend,
        kind=choice.kind,
        sentence=choice.sentence,
        listening=heard,
        input_sentence=_listening(config, heard) if binding else f"No keyboard can be heard: {binding_fault()}.",
    )


def _listening(config: SoundConfig, heard: tuple[Port, ...]) -> str:
    if heard:
        reason = "as you asked" if config.midi_in else "every keyboard there is"
        return f"Listening to {', '.join(f'“{port.name}”' for port in heard)}, {reason}."
    if config.midi_in:
        wanted = " or ".join(f"“{part}”" for part in config.midi_in)
        return f"No MIDI keyboard has {wanted} in its name. You say yourself how it went."
    return "No MIDI keyboard was found. You say yourself how it went."


def _audio(backend: str, avoid: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """The back end that a device really opens on and the names of its devices; empty without one."""
    from companion.sound.builtin import open_builtin, system_of

    output = open_builtin(backend, avoid)
    if output is None:
        return "", ()
    import miniaudio

    name: str = output.device.backend
    output.close()
    kind = next((kind for kind in miniaudio.Backend if kind.name == name.upper().replace(" ", "")), None)
    try:
        with entering(system_of(name)):
            devices = miniaudio.Devices([kind] if kind else None).get_playbacks()
    except miniaudio.MiniaudioError:  # it plays but cannot be listed
        devices = []
    return name, tuple(device["name"] for device in devices) or (name,)
