"""`companion devices`: MIDI inputs and outputs of every API present, the audio device, and what will be used and why."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode
from companion.session.sound_settings import sound_config
from companion.sound.devices import API_NAMES, DeviceReport, describe_devices
from companion.sound.midi import Port


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = (
        'JSON: {"library", "fault", "systems", "outputs", "inputs", "audio", "audio_by", "unanswered", "output", "says", "soundfont", "soundfont_fault"}. outputs and inputs: '
        '"system" and "name", inputs also "listening". output: builtin, midi or silent, as says tells with the keyboards.'
    )
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print what is there and what will be used."""
    _, settings = arguments.paths_and_settings(options)
    report = describe_devices(sound_config(settings))
    soundfont = settings.sound.soundfont
    fault = _soundfont_fault(soundfont) if soundfont else ""
    font = {"soundfont": soundfont or None, "soundfont_fault": fault}
    words = f"{fault} The built-in sound plays." if fault else f"SoundFont in place of the built-in sound: {soundfont}"
    print_result(
        options,
        lambda: as_json(report) | font,
        lambda: "\n".join([as_text(report), *([words] if soundfont else [])]),
    )
    return ExitCode.OK


def _soundfont_fault(path: str) -> str:
    from companion.sound.soundfont import SoundFont, SoundFontError  # numpy: 60 ms

    try:
        SoundFont(Path(path)).close()
    except SoundFontError as error:
        return str(error)
    return ""


def as_json(report: DeviceReport) -> dict[str, Any]:
    """As `--help` says."""
    return {
        "library": report.binding or None,
        "fault": report.binding_fault,
        "systems": list(report.apis),
        "outputs": [{"system": port.api, "name": port.name} for port in report.outputs],
        "inputs": [
            {"system": port.api, "name": port.name, "listening": port in report.listening} for port in report.inputs
        ],
        "audio": list(report.audio),
        "audio_by": report.audio_backend,
        "unanswered": list(report.unanswered),
        "output": report.kind,
        "says": [report.sentence, report.input_sentence],
    }


def as_text(report: DeviceReport) -> str:
    """What there is, then what will be used."""
    library = report.binding or report.binding_fault
    audio = ", ".join(report.audio) + f" ({report.audio_backend})" if report.audio else "none found"
    lines = [f"MIDI library: {library}; MIDI systems present: {_names(report.apis, API_NAMES)}"]
    lines += _ports("MIDI outputs", report.outputs, ())
    lines += _ports("MIDI inputs", report.inputs, report.listening)
    lines.append(f"Sound device: {audio}")
    lines += [f"{name} does not answer and was left out." for name in report.unanswered]
    return "\n".join([*lines, "", report.sentence, report.input_sentence])


def _ports(words: str, ports: tuple[Port, ...], used: tuple[Port, ...]) -> list[str]:
    return [f"{words}:" if ports else f"{words}: none found"] + [
        f"  {port.name} ({API_NAMES.get(port.api, port.api)}){'  listening' if port in used else ''}" for port in ports
    ]


def _names(ids: tuple[str, ...], names: dict[str, str]) -> str:
    return ", ".join(names.get(each, each) for each in ids) or "none"
