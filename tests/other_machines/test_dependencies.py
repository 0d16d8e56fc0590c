"""What is installed on which system and Python, and what the student is told where something has no wheel."""

from __future__ import annotations

import os
import sys

import pytest
from bench import wheels

from companion.sound.devices import look
from companion.sound.messages import SoundConfig
from companion.sound.midi import load_binding
from companion.sound.output_choice import NO_BUILTIN, choose_output

# System -> Python -> what of the compiled libraries that not every system has is installed there. What has wheels was
# looked up with tests/bench/wheels.py; `pytest --deep` looks again.
_OLD, _NEW = ("3.11", "3.12"), ("3.13", "3.14")
_USUAL = {python: {"miniaudio", "python-rtmidi" if python in _OLD else "rtmidi2"} for python in (*_OLD, *_NEW)}
_ARM = {python: {"python-rtmidi"} if python in _OLD else set() for python in (*_OLD, *_NEW)}
INSTALLED = {system.name: _ARM if system.name == "Linux arm64" else _USUAL for system in wheels.SYSTEMS}
PARTIAL = {"miniaudio", "python-rtmidi", "rtmidi2"}


@pytest.mark.parametrize("system", wheels.SYSTEMS, ids=lambda system: system.name)
@pytest.mark.parametrize("python", wheels.PYTHONS)
def test_markers_ask_for_what_has_wheels_and_no_more(system, python):
    environment = system.environment(python)
    asked = {one.name for one in wheels.own_requirements() if wheels.applies(one, environment)}
    assert asked & PARTIAL == INSTALLED[system.name][python]
    assert {"textual", "numpy", "soundfile", "verovio", "typst", "music21"} <= asked


def test_the_environment_of_a_marker_has_the_names_of_the_standard():
    """packaging, the reference for dependency specifiers, lists them for the Python that runs it."""
    from packaging.markers import default_environment

    assert wheels.SYSTEMS[0].environment("3.11").keys() == default_environment().keys()


@pytest.mark.parametrize(
    ("names", "least"),
    [
        (
            [
                "a-1-cp310-abi3-manylinux_2_28_x86_64.whl",
                "b-1-cp312-cp312-manylinux2014_x86_64.manylinux_2_17_x86_64.whl",
            ],
            "glibc 2.28",
        ),
        (["a-1-cp312-cp312-macosx_10_9_x86_64.whl", "b-1-cp312-cp312-macosx_13_0_arm64.whl"], "macOS 13.0"),
        (["a-1-py3-none-any.whl"], ""),
    ],
)
def test_the_oldest_system_that_all_wheels_take_is_found(names, least):
    """PEP 600 and 425: the tags of a wheel's file name."""
    assert wheels.needs([wheels.Found(wheels={name[0]: name for name in names})]) == least


@pytest.mark.timeout(3000)
def test_every_dependency_has_a_wheel(deep):
    """The package index itself is asked, for each system and Python, about every dependency of ours and theirs."""
    if not deep:
        pytest.skip("asks the package index for ten minutes: pytest --deep")
    for system in wheels.SYSTEMS:
        for python in wheels.PYTHONS:
            found = wheels.look(system, python)
            assert not found.missing and not found.newer, (system.name, python, found)
            if system.name == "Linux arm64":  # what is left out there is left out for a reason
                assert not any(found.left_out.get(name) for name in ("miniaudio", "rtmidi2")), (python, found.left_out)


# --- a computer without those libraries: Linux on ARM


@pytest.fixture
def bare(monkeypatch):
    """Neither the built-in sound nor MIDI."""
    for name in ("miniaudio", "rtmidi", "rtmidi2"):
        monkeypatch.setitem(sys.modules, name, None)


@pytest.mark.parametrize(
    ("mode", "said"),
    [
        ("auto", NO_BUILTIN),
        ("builtin", NO_BUILTIN),
        ("midi", "no MIDI library for this Python"),
        ("silent", "as you asked"),
    ],
)
def test_without_libraries_it_keeps_time_silently_and_says_why(bare, mode, said):
    output, sentence = choose_output(SoundConfig(mode=mode), load_binding())
    assert output.kind == "silent" and said in sentence
    assert look(SoundConfig(mode=mode)).sentence == sentence


def test_without_libraries_the_list_of_devices_says_so(bare):
    report = look(SoundConfig())
    assert (report.binding, report.outputs, report.inputs, report.audio) == ("", (), (), ())
    assert "no MIDI library" in report.input_sentence


def test_with_midi_alone_a_synthesiser_sounds(monkeypatch):
    """Python 3.11 and 3.12 on ARM."""
    from companion.sound.midi import Port
    from companion.sound.output_choice import decide

    port = Port("alsa", "Synth:Synth port 128:0")
    choice = decide(SoundConfig(), (port,), lambda: False, has_library=False)
    assert choice.port == port and choice.sentence.startswith(
        "There is no built-in sound for this kind of computer: sounding on"
    )


def test_without_libraries_tracks_and_sheets_are_still_written(bare, tmp_path):
    from companion.cli.main import main

    for name in ("track.wav", "track.flac", "take.mid", "sheet.txt"):
        assert (
            main(["export", "two-spoons", str(tmp_path / name), *(["--choruses", "1"] if name[0] == "t" else [])]) == 0
        )
        assert (tmp_path / name).stat().st_size > 100
    assert load_binding() is None and os.path.exists(tmp_path / "track.wav")
