"""The pages that set a microphone up: the question, how loud it is, the own sound, the notes one after another, and what came of it. Each fits 80 by 24."""

from __future__ import annotations

from textwrap import wrap

from companion.base.text import plural
from companion.hands.hand import pitch_name
from companion.sound.listening.messages import EchoMeasured, LevelHeard, NoteLearned
from companion.tui.draw.big import big_symbol
from companion.tui.draw.keyboard import KeyNote, Keys, centred_keyboard
from companion.tui.draw.row import Row
from companion.tui.draw.words import signs

PAGES = ("ask", "level", "echo", "notes", "done")
LOWEST, HIGHEST = 40, 64  # E2 to E4
_MOST_COLUMNS = 96
_FLOOR_DB = -70.0  # where the line begins
_BAR = 50
_ASK = (
    "An acoustic piano can be heard through the microphone of this computer: then each chord is marked, as with a keyboard.",
    "It listens only while the sign ◉ stands at the foot of the screen. F12 turns it off at once, and on again.",
    "Sound is never sent anywhere, and never kept but of a performance that you ask to have recorded. What is kept is how each key of your piano is tuned and coloured, and the marks.",
    "Setting up takes two minutes, once for a piano and its place. Where no microphone is wanted, you say yourself how a pass went.",
)


def ask_page(width: int) -> list[Row]:
    """The question, before anything listens."""
    rows = _head(1, "May the companion listen through the microphone?", width)
    for words in _ASK:
        rows += [*_text(words, width), []]
    return [*rows, *_text("enter: yes, listen from now on.   esc: no.", width, "strong")]


def level_page(
    level: LevelHeard | None, is_on: bool, why_off: str, pianos: list[str], piano: str, width: int
) -> list[Row]:
    """level: as it was told last. why_off: a sentence where the microphone could not be had. pianos: those that were learned; piano: which one is set."""
    rows = _head(2, "Is it loud enough?", width)
    if why_off:
        return [
            *rows,
            *_text(why_off, width, "strong"),
            [],
            *_text("enter: try again.   esc: go on without it; you say yourself how a pass went.", width),
        ]
    if level is None:
        return [*rows, *_text("It is being switched on." if not is_on else "It listens.", width)]
    rows += _text("Be still for a moment, then play a few low notes softly and loudly.", width)
    rows += [[], [("  ", "plain"), ("softly " + _line(level) + " loudly", "strong")], []]
    rows += _text(
        f"now {level.now_db:.0f} dB   loudest {level.loud_db:.0f} dB   quiet {level.quiet_db:.0f} dB", width, "dim"
    )
    rows += [[], *_text(level.advice or ("That will do." if level.is_played else "Now play."), width, "strong")]
    if not pianos:
        return rows
    more = f" p: another of the {len(pianos)} that were learned." if len(pianos) > 1 else ""
    return [
        *rows,
        [],
        *_text(f"It listens for “{piano}”: esc keeps that, enter goes on to learn a piano.{more}", width, "dim"),
    ]


def _line(level: LevelHeard) -> str:
    now, loud = (
        max(0, min(_BAR - 1, round((db - _FLOOR_DB) / -_FLOOR_DB * _BAR))) for db in (level.now_db, level.loud_db)
    )
    return "".join("|" if place == loud else "━" if place < now else "·" for place in range(_BAR))


def echo_page(echo: EchoMeasured | None, measuring: bool, sounds_here: bool, width: int) -> list[Row]:
    """echo: as it was measured here. sounds_here: whether the companion itself sounds, and not an instrument over MIDI."""
    rows = _head(3, "Headphones, or loudspeakers?", width)
    rows += _text("With headphones the microphone hears nothing but the piano: that is surest.", width)
    rows += [
        [],
        *_text(
            "h: headphones.   space: loudspeakers; a noise of three seconds is played to measure how they come back.",
            width,
        ),
    ]
    if measuring:
        words = "Measuring: be still for five seconds."
    elif not sounds_here:
        words = "What sounds over MIDI cannot be taken out of what is heard: headphones, please."
    elif echo is None:
        words = ""
    elif not echo.heard:
        words = "The noise did not come back: as good as headphones."
    elif echo.is_good:
        words = f"The loudspeakers are taken out, by {echo.quality_db:.0f} dB. enter goes on."
    else:
        words = (
            f"Only {echo.quality_db:.0f} dB can be taken out: headphones, please, or a softer click, and measure again."
        )
    return [*rows, [], *_text(words, width, "strong")]


def notes_page(wanted: int, last: NoteLearned | None, name: str, width: int) -> list[Row]:
    """wanted: the key that is asked for. last: what was heard before."""
    count = wanted - LOWEST
    rows = _head(4, f"Play this key and hold it a second: {count} of {HIGHEST - LOWEST + 1} heard", width)
    shown = signs(pitch_name(wanted))
    rows += [[("  ", "plain"), (line, "now-big")] for line in big_symbol(shown, min(width - 4, 30), 6)]
    rows += centred_keyboard(Keys((LOWEST, HIGHEST), (KeyNote(wanted, shown.rstrip("0123456789")),), ()), width, 7)
    words = ""
    if last is not None and last.again:
        heard = "That was not clear" if last.heard is None else f"That was {signs(pitch_name(last.heard))}"
        words = f"{heard}: once more {shown}, please."
    elif last is not None:
        words = f"{signs(pitch_name(last.wanted))} is heard, {last.cents:+.0f} cents."
    return [*rows, *_text(words, width, "strong"), *_text(f"It is kept as “{name}”.", width, "dim")]


def done_page(cents: float, name: str, width: int) -> list[Row]:
    """cents: of the whole piano, against a' = 440 Hz."""
    off = f"{plural(round(abs(cents)), 'cent')} {'below' if cents < 0 else 'above'}" if abs(cents) >= 0.5 else "at"
    words = (
        f"“{name}” is known now. It is tuned {off} a' = 440 Hz.",
        "Put a song on the stand and play: each chord is marked. A question mark is a chord it was not sure of: that counts for nothing.",
        "Each time it begins to listen three soft notes tell whether it still fits. F12 turns the microphone off and on.",
    )
    rows = _head(5, "Ready", width)
    for line in words:
        rows += [*_text(line, width), []]
    return rows


def _head(number: int, question: str, width: int) -> list[Row]:
    return [[], *_text(f"{question}   ({number} of {len(PAGES)})", width, "cursor"), []]


def _text(words: str, width: int, role: str = "plain") -> list[Row]:
    return [[(f"  {line}", role)] for line in wrap(words, max(8, min(width - 4, _MOST_COLUMNS)))]
