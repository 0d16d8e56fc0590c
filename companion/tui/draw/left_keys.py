"""The left hand's keys on the stand: those due at this beat, those of the same chord that are not, those of the chord to prepare.

Most rhythms strike the whole shell each time. Where one strikes its keys one by one, or others beside them, such as a low root, only what is struck now
is due; the rest of what is struck of the chord is told by name alone.
"""

from __future__ import annotations

from companion.groove.model import Strike
from companion.groove.patterns import pattern_strikes, strikes_by_key
from companion.hands.left.model import Choice
from companion.hands.left.struck import fingers_struck, pitches_struck
from companion.session.changes import ChordIndex
from companion.session.stand import Stand
from companion.tui.draw.cues import ShownShell, note_words, shown_coming, shown_now
from companion.tui.draw.keyboard import KeyNote
from companion.tui.draw.view import View
from companion.tui.draw.words import shell_degrees, signs


def shell_notes(choice: Choice | None) -> tuple[KeyNote, ...]:
    """The keys of a shell, from the lower."""
    if choice is None or choice.shell is None:
        return ()
    parts = zip(
        choice.shell.midi, note_words(choice), fingers_of(choice), shell_degrees(choice.shell.kind), strict=True
    )
    return tuple(KeyNote(midi, name, finger, degree) for midi, name, finger, degree in parts)


def fingers_of(choice: Choice) -> tuple[str, str]:
    """The fingers for the lower and upper note: ("5", "1")."""
    lower, _, upper = choice.fingers.partition("-")
    return lower, upper


def left_keys(view: View) -> tuple[tuple[KeyNote, ...], tuple[KeyNote, ...], tuple[KeyNote, ...]]:
    """Now, what else is struck of the chord of now, and next, as far as cues let them be marked. While nothing sounds, and while a shell is waited for, all of it is now."""
    at, coming = (view.here, view.chord_no), view.of_coming
    now, strikes = shell_notes(shown_now(view).keys), _strikes(view.stand, view.pattern, at)
    following = _struck_of(
        coming.stand, coming.coming_chord, shown_coming(view), _strikes(coming.stand, view.pattern, coming.coming_chord)
    )
    if not now or not strikes or not view.sounding or view.waiting is not None or view.beat is None:
        return now, (), following
    end = (view.beat.pulse + 1) * view.stand.bars[view.here].meter.pulse_ticks
    due = [strike for strike in strikes if strike.tick < end][-1:] or strikes[:1]
    keys = _struck_of(view.stand, at, shown_now(view), strikes)
    struck = [key for key in keys if key.midi in due[0].notes]
    return tuple(struck), tuple(key for key in keys if key not in struck), following


def _struck_of(stand: Stand, at: ChordIndex, shown: ShownShell, strikes: tuple[Strike, ...]) -> tuple[KeyNote, ...]:
    """All that is struck of a chord, from the lowest; its shell where the rhythm strikes that as a whole."""
    choice, shell = shown.keys, {note.midi: note for note in shell_notes(shown.keys)}
    if choice is None or choice.shell is None or not strikes:
        return tuple(shell.values())
    placed, _ = stand.choices_at(at[0])[at[1]]
    keys = sorted({key for strike in strikes for key in strike.notes})
    pitches, fingers = pitches_struck(choice, placed.chord, keys), fingers_struck(choice, keys)
    root = shell_degrees(choice.shell.kind)[0]
    return tuple(
        shell.get(key)
        or KeyNote(
            key, signs(pitch.tone.name), str(finger), root if (key - choice.shell.lower.midi) % 12 == 0 else "5th"
        )
        for key, pitch, finger in zip(keys, pitches, fingers, strict=True)
    )


def _strikes(stand: Stand, pattern: str, at: ChordIndex) -> tuple[Strike, ...]:
    """Of a chord of the loop, where the rhythm strikes keys one by one; else none."""
    if not strikes_by_key(pattern):
        return ()
    bars = (bar for bar in stand.arrangement().bars if bar.index == at[0])
    return tuple(strike for bar in bars for strike in pattern_strikes(pattern, bar) if strike.chord == at[1])
