"""`companion devices`: MIDI inputs and outputs of every API present, the audio device, and what will be used and why."""

from __future__ import annotations

import argparse

from companion.errors import ExitCode
from companion.session.sound_settings import sound_config
from companion.sound.devices import API_NAMES, describe_devices
from companion.sound.midi import Port
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""


def run(options: argparse.Namespace) -> int:
    """Print what is there and what will be used."""
    report = describe_devices(sound_config(load_settings(find_paths())))
    print(
        f"MIDI library: {report.binding or report.binding_fault}; MIDI systems present: {_names(report.apis, API_NAMES)}"
    )
    _print_ports("MIDI outputs", report.outputs, ())
    _print_ports("MIDI inputs", report.inputs, report.listening)
    audio = ", ".join(report.audio) + f" ({report.audio_backend})" if report.audio else "none found"
    print(f"Sound device: {audio}")
    for name in report.unanswered:
        print(f"{name} does not answer and was left out.")
    print()
    print(report.sentence)
    print(report.input_sentence)
    return ExitCode.OK


def _print_ports(words: str, ports: tuple[Port, ...], used: tuple[Port, ...]) -> None:
    print(f"{words}:" if ports else f"{words}: none found")
    for port in ports:
        print(f"  {port.name} ({API_NAMES.get(port.api, port.api)}){'  listening' if port in used else ''}")


def _names(ids: tuple[str, ...], names: dict[str, str]) -> str:
    return ", ".join(names.get(each, each) for each in ids) or "none"
