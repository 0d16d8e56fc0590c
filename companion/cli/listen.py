"""`companion listen`: try the microphone; with `--scale SCALE.wav --as NAME` learn an acoustic piano from a recording of its notes."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from companion.base.text import plural
from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode, PianoError
from companion.hands.hand import pitch_name
from companion.session.sound_file import read_sound
from companion.store.pianos import piano_path, write_piano

if TYPE_CHECKING:
    from companion.sound.listening.piano import Piano
    from companion.store.paths import Paths
    from companion.store.settings import Settings

NOTES = """\
Without --scale the microphone is listened to for a minute, to try a place: each strike is told with the notes heard and how sure each is, and how loud it is with what to do about it.
With --json a line each: {"notes": [{"note", "midi", "confidence"}], "time_s"} or {"now_db", "loud_db", "quiet_db", "advice"}.

The scale is every key from E2 to E4 upwards, black ones too, each about a second, recorded where the piano will be listened to. What is kept are figures: how each note is tuned and which
partials it has. Sound is never kept. `companion mark SONG TAKE.wav --piano NAME` listens with it.

JSON: {"piano", "path", "cents", "notes", "clips"}. clips: whether the recording is too loud; cents: how far the piano as a whole lies from a' = 440 Hz; notes: "note", "midi" and "cents"
from equal temperament, of each.
"""
LISTENING = (
    "The microphone is on for {seconds:.0f} seconds (Ctrl+C ends it); sound is not kept. Play a few notes and shells."
)
CLIPS = "The recording clips: record it softer or from farther away and learn it anew, as much of each note's colour is lost."
FAR_CENTS = 10.0  # from the piano's own middle


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("--scale", metavar="FILE", help="a recording of E2 to E4, each about a second")
    parser.add_argument("--as", dest="name", metavar="NAME", help="what the piano is to be called")
    parser.add_argument("--piano", metavar="NAME", help="without --scale: one that was learned, to listen with")
    parser.add_argument(
        "--seconds", type=arguments.number(1, 3600), default=60.0, metavar="N", help="without --scale: how long"
    )
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Learn the piano and say how it is tuned. Raises TakeError for the file, PianoError for what is in it."""
    from companion.sound.listening.level import clips
    from companion.sound.listening.piano import to_bytes
    from companion.sound.listening.scale import learn

    paths, settings = arguments.paths_and_settings(options)
    if options.scale is None:
        return _listen_now(options, paths, settings)
    if options.name is None:
        from companion.errors import SettingsError

        raise SettingsError("--scale needs --as NAME: what the piano is to be called")
    piano_path(paths, options.name)  # before any work is done for a name that will not do
    sound = read_sound(options.scale)
    try:
        piano = learn(sound, name=options.name.strip())
    except PianoError as error:
        raise PianoError(f"{options.scale}: {error}") from None
    path = write_piano(paths, options.name, to_bytes(piano))
    is_clipped = clips(sound)
    print_result(
        options,
        lambda: _as_json(piano, str(path)) | {"clips": is_clipped},
        lambda: "\n".join([_as_words(piano, str(path)), *([CLIPS] if is_clipped else [])]),
    )
    return ExitCode.OK


def _listen_now(options: argparse.Namespace, paths: Paths, settings: Settings) -> int:
    """Who calls this command says yes to the microphone by it, for so long."""
    from companion.cli.listen_live import listen, words_of
    from companion.errors import SettingsError

    if options.name:
        raise SettingsError("--as goes with --scale; in the app F12 learns a piano by the microphone")
    if not options.json:
        print(LISTENING.format(seconds=options.seconds), flush=True)
    try:
        for heard in listen(paths, settings, options.piano, options.seconds):
            print(json.dumps(heard, ensure_ascii=False) if options.json else words_of(heard), flush=True)
    except KeyboardInterrupt:
        pass
    return ExitCode.OK


def _as_json(piano: Piano, path: str) -> dict[str, Any]:
    return {
        "piano": piano.name,
        "path": path,
        "cents": round(piano.tuning_cents, 1),
        "notes": [
            {"note": pitch_name(note), "midi": note, "cents": round(float(cents), 1)} for note, cents in _tuned(piano)
        ],
    }


def _as_words(piano: Piano, path: str) -> str:
    middle = piano.tuning_cents
    whole = f"{plural(round(abs(middle)), 'cent')} {'below' if middle < 0 else 'above'}" if abs(middle) >= 0.5 else "at"
    lines = [f"{piano.name}: learned, E2 to E4. It is tuned {whole} a' = 440 Hz."]
    far = [(note, cents - middle) for note, cents in _tuned(piano) if abs(cents - middle) > FAR_CENTS]
    if far:
        lines.append("Farther off: " + ", ".join(f"{pitch_name(note)} {cents:+.0f} cents" for note, cents in far) + ".")
    return "\n".join([*lines, f"Kept in {path}; sound is not kept."])


def _tuned(piano: Piano) -> list[tuple[int, float]]:
    from companion.sound.listening.piano import NOTES as KEYS

    return [(note, float(cents)) for note, cents in zip(KEYS, piano.cents)]
