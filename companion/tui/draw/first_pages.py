"""The pages of the first use: what the left hand spans, which keyboard is heard, how it sounds. Each fits 80 by 24."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from textwrap import wrap

from companion.hands.hand import Hand, pitch_name
from companion.hands.left.model import Shell
from companion.hands.left.options import options_for
from companion.sound.messages import Keyboards
from companion.theory.symbols import parse_chord
from companion.tui.cautions import CAUTIONS
from companion.tui.draw.keyboard import KeyNote, Keys, centred_keyboard
from companion.tui.draw.row import Row, cut
from companion.tui.draw.words import heard_words, no_keyboard_words, shell_degrees, signs, volume_words

PAGES = ("hand", "keyboard", "sound")
# Semitones -> words. Smaller than an octave for a small hand, as shells need no more; a tenth for one that has it (common practice).
REACHES = {10: "a minor seventh", 11: "a major seventh", 12: "an octave", 14: "a ninth", 16: "a tenth"}
_LOWEST = 48  # C3
_WINDOW = (_LOWEST, _LOWEST + 24)
_KEYBOARD_ROWS, _MOST_COLUMNS = 8, 96
_FORCE, _LEVEL = CAUTIONS[2], CAUTIONS[3]
_LAY_REACH = "Lay the little finger (5) on the lower of the filled keys and the thumb (1) on the upper, at ease. ← → go to a smaller or a wider reach."
_PLAY_REACH = "Hold two keys together on your keyboard, as far apart as is easy for little finger (5) and thumb (1). Or choose with ← →."


def a_shell(hand: Hand) -> Shell:
    """A shell of C7 to listen to, root and seventh where the hand has it."""
    shells = options_for(parse_chord("C7"), hand)
    return next((shell for shell in shells if shell.kind == "root-seventh"), shells[0])


def reach_of(held: Collection[int]) -> int | None:
    """The widest of REACHES that keys held together span, None where that is no reach yet. held: MIDI."""
    span = max(held, default=0) - min(held, default=0)
    return max((reach for reach in REACHES if reach <= span), default=None)


def hand_page(reach: int, is_heard: bool, width: int) -> list[Row]:
    """reach: the interval that is chosen, in semitones. is_heard: whether a keyboard is."""
    ends = ((0, "little finger", "5"), (reach, "thumb", "1"))
    notes = tuple(
        KeyNote(_LOWEST + step, signs(pitch_name(_LOWEST + step)).rstrip("0123456789"), finger)
        for step, _, finger in ends
    )
    choices: Row = [("  ", "plain")]
    for step, words in REACHES.items():
        choices += [
            (f"▶{words}◀" if step == reach else f" {words} ", "cursor" if step == reach else "dim"),
            ("  ", "plain"),
        ]
    return [
        *_head(1, "How far does your left hand reach?", width),
        *_text(_PLAY_REACH if is_heard else _LAY_REACH, width),
        [],
        *_keys(notes, (), width),
        [],
        cut(choices, width),
        [],
        *_text(f"An octave is enough for every shell; a tenth is only for a hand that has it. {_FORCE}", width),
    ]


def keyboard_page(keyboards: Keyboards, struck: Sequence[int], looked: bool, width: int) -> list[Row]:
    """struck: keys of the piano that were pressed here, MIDI, the last one last. looked: whether it was looked for again."""
    rows = _head(2, "Is your keyboard heard?", width)
    if not keyboards.present:
        again = " Looked again just now." if looked else ""
        return [
            *rows,
            *_text(no_keyboard_words(keyboards.fault) + again, width),
            [],
            *_text("An acoustic piano can be heard through the microphone: m.", width),
        ]
    rows += [row for name in keyboards.present for row in _text(heard_words(name, keyboards.heard), width, "strong")][
        :4
    ]
    if not struck:
        return [*rows, [], *_text("Press any key of it, to try it.", width)]
    last = signs(pitch_name(struck[-1]))
    window = (min(_WINDOW[0], struck[-1]), max(_WINDOW[1], struck[-1]))
    return [
        *rows,
        [],
        *_text(f"You pressed {last}: it is heard.", width, "strong"),
        [],
        *_keys((KeyNote(struck[-1], last.rstrip("0123456789")),), (struck[-1],), width, window),
    ]


def sound_page(shell: Shell, volume: float, output: str, mode: str, unheard: bool, width: int) -> list[Row]:
    """volume: of the shells, 0 to 1. output: where it sounds, in a sentence; mode: "builtin", "midi", "silent" or "" while it is starting.
    unheard: whether the student hears nothing, and wants to know what to do."""
    names = [signs(pitch_name(midi)).rstrip("0123456789") for midi in shell.midi]
    notes = tuple(
        KeyNote(midi, name, finger, degree)
        for midi, name, finger, degree in zip(shell.midi, names, "51", shell_degrees(shell.kind), strict=True)
    )
    return [
        *_head(3, "Does it sound, and loud enough?", width),
        *_text(output or "Sound is starting.", width),
        *_text(f"Press space: this is a shell, {' and '.join(names)}, all that your left hand plays of C7.", width),
        [],
        *(_help_to_hear(mode, width) if unheard else _keys(notes, (), width)),
        [],
        *_text(volume_words("left", volume), width, "strong"),
        [],
        *_text(_LEVEL, width),
    ]


# What to look at where nothing is heard, by where it should sound; the first that helps is enough.
_TO_HEAR = {
    "builtin": (
        "→ makes it louder. Is the computer's own sound turned up, and not muted?",
        "Headphones or loudspeakers: plugged in, switched on, and chosen in the computer's sound settings?",
    ),
    "midi": (
        "It sounds in the instrument that is connected: is that switched on and turned up?",
        "A digital piano may have its sound for what comes from outside switched off: see its manual.",
    ),
    "silent": ("Nothing was found that could sound.",),
}
_OTHER_OUTPUT = "F5 chooses another place where it sounds. Without sound all is still shown, in time."


def _help_to_hear(mode: str, width: int) -> list[Row]:
    words = (*_TO_HEAR.get(mode, _TO_HEAR["builtin"]), _OTHER_OUTPUT)
    return [row for number, line in enumerate(words, 1) for row in _text(f"{number}. {line}", width, hang=3)]


def _head(number: int, question: str, width: int) -> list[Row]:
    return [[], *_text(f"{question}   ({number} of {len(PAGES)})", width, "cursor"), []]


def _text(words: str, width: int, role: str = "plain", hang: int = 0) -> list[Row]:
    lines = wrap(words, max(8, min(width - 4, _MOST_COLUMNS)), subsequent_indent=" " * hang)
    return [[(f"  {line}", role)] for line in lines]


def _keys(notes: tuple[KeyNote, ...], down: Sequence[int], width: int, window: tuple[int, int] = _WINDOW) -> list[Row]:
    return centred_keyboard(Keys(window, notes, (), down), width, _KEYBOARD_ROWS)
