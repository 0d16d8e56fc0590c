"""Every legal shell of a chord.

What a family of chords may take stands in one table, in tiers: the first tier with a legal shell counts and the ones
after it are only for chords (or hands) that the first leaves with nothing. Over a slash bass a
later tier may also give a lower octave of the bass, so that a bass that walks down can go on walking. Seventh chords have one tier, because a
dominant or a minor seventh without its third or seventh is no longer heard as one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from companion.errors import SettingsError, ShellError
from companion.hands.hand import WIDEST_REACH, Hand, pitch_name
from companion.hands.left.model import Shell
from companion.theory.chord import Chord
from companion.theory.pitch import Pitch, Tone
from companion.theory.shell_kinds import SHELL_KINDS, Pin

TENTHS = (15, 16)  # semitones: a third with an octave between, for a hand that reaches it
# The chord degree that a shell's upper note stands for; the second number is the same tone an octave higher.
_UPPER = {"third": (3,), "fourth": (4, 11), "fifth": (5,), "sixth": (6, 13), "seventh": (7,)}

# family -> tiers of upper notes above the root. All rows: common practice.
ROOT_TIERS = {
    "seventh": (("third", "seventh"),),
    "sixth": (("third", "sixth"), ("fifth",), ("octave",)),  # so that the seventh before it resolves
    "sus": (("fourth", "seventh"), ("fifth",), ("octave",)),  # sus2 has no fourth: it rests on root-fifth
    "triad": (("third", "fifth"), ("octave",)),
    "diminished": (("third", "seventh", "fifth"), ("octave",)),
    "power": (("fifth",), ("octave",)),
}
# A seventh chord whose third is left out (omit3) has only the seventh to keep, and where that does not fit, the fifth.
_WITHOUT_THIRD = (("seventh",), ("fifth",), ("octave",))
# A slash chord: the bass below, the third (fourth in a sus chord) or seventh above; then what is left of the chord.
BASS_TIERS = (("third", "seventh"), ("fifth",), ("root",), ("sixth",), ("octave",))
BASS_TIERS_SIXTH = (("third", "sixth"), ("fifth",), ("root",), ("octave",))
BASS_TIERS_SUS = (("fourth", "seventh"), ("fifth",), ("root",), ("octave",))


def options_for(chord: Chord, hand: Hand, label: str = "", needed: bool = True) -> tuple[Shell, ...]:
    """Every shell the chord may take under this hand, in a fixed order: by kind as the table has it, then upwards.

    label: how an error names the place. Raises ShellError, saying what would help, where no shell is legal; with
    needed=False the answer is then empty.
    """
    found = _first_legal(chord, hand)
    if needed and not found:
        raise ShellError(_nothing_fits(chord, hand, label))
    return found


def pinnable(chord: Chord, hand: Hand) -> tuple[Shell, ...]:
    """Every shell that a student may pin, at every legal place: what the solver may take, and whatever other tone the chord has."""
    found = options_for(chord, hand, needed=False)
    more = [shell for upper in ("root", *_UPPER) for shell in _shells(chord, hand, upper)]
    return found + tuple(shell for shell in more if shell not in found)


def pin_of(shell: Shell, reason: str = "") -> Pin:
    """The pin that asks for just that shell."""
    return Pin(shell.kind, shell.lower, shell.upper if shell.interval in TENTHS else None, reason)


def rest_for(chord: Chord, hand: Hand) -> tuple[Shell, ...]:
    """The root-fifth at the lowest legal place, on which a sixth chord or a major triad may rest; none where it has none."""
    return () if _lower_name(chord) == "bass" else _shells(chord, hand, "fifth")[:1]


def pinned_options(chord: Chord, hand: Hand, pin: Pin, label: str = "") -> tuple[Shell, ...]:
    """Every legal shell that the pin allows; any kind that the chord has the tones for.

    A place is kept as it is where it names the chord's own lower note. Where the song has moved to another key since, it is the
    nearest legal octave to it, the lower of two. Raises ShellError saying why the pin cannot be kept.
    """
    where = _where(chord, label)
    kind = pin.kind
    if kind not in SHELL_KINDS:
        raise ShellError(f"{where}: {kind!r} is no shell; expected one of {', '.join(SHELL_KINDS)}.")
    lower, upper = kind.split("-")
    if lower != _lower_name(chord):
        takes = "has another tone in the bass" if lower == "root" else "has its root in the bass"
        raise ShellError(
            f"{where}: the pin {kind} cannot be kept: {chord} {takes}, so its shells are named {_lower_name(chord)}-…."
        )
    tone = _upper_tone(chord, upper)
    if tone is None:
        raise ShellError(f"{where}: the pin {kind} cannot be kept: {chord} has no {upper}.")
    if upper != "octave" and tone.pc == _lower_tone(chord).pc:
        raise ShellError(f"{where}: the pin {kind} cannot be kept: the {upper} of {chord} is already in the bass.")
    found = _shells(chord, hand, upper)
    if not found:
        raise ShellError(
            f"{where}: the pin {kind} cannot be kept within {hand} and the low-interval limits; "
            f"{_advice(hand, lambda other: bool(_shells(chord, other, upper)))}."
        )
    return found if pin.lower is None else _at_place(found, pin, pin.lower, where)


def _at_place(found: tuple[Shell, ...], pin: Pin, place: Pitch, where: str) -> tuple[Shell, ...]:
    if pin.upper is not None:
        tenth = pin.upper.midi - place.midi > 12
        found = tuple(shell for shell in found if (shell.interval > 12) == tenth) or found
    nearest = min(found, key=lambda shell: (abs(shell.lower.midi - place.midi), shell.midi)).lower.midi
    if place.tone.pc == found[0].lower.tone.pc and nearest != place.midi:
        legal = ", ".join(dict.fromkeys(shell.names[0] for shell in found))
        raise ShellError(
            f"{where}: the pin {pin.asked} cannot be kept: {pin.kind} is legal at {legal}, not at {place}."
        )
    return tuple(shell for shell in found if shell.lower.midi == nearest)


def _lower_tone(chord: Chord) -> Tone:
    return chord.root if chord.bass is None else chord.bass


def _lower_name(chord: Chord) -> str:
    return "root" if _lower_tone(chord).pc == chord.root.pc else "bass"


def _upper_tone(chord: Chord, upper: str) -> Tone | None:
    if upper == "octave":
        return _lower_tone(chord)
    if upper == "root":
        return chord.root
    for number in _UPPER[upper]:
        if (tone := chord.tone(number)) is not None:
            return tone
    return None


def _tiers(chord: Chord) -> tuple[tuple[str, ...], ...]:
    if _lower_name(chord) == "bass":
        return {"sus": BASS_TIERS_SUS, "sixth": BASS_TIERS_SIXTH}.get(chord.family, BASS_TIERS)
    if chord.family == "seventh" and chord.tone(3) is None:
        return _WITHOUT_THIRD
    return ROOT_TIERS[chord.family]


def _first_legal(chord: Chord, hand: Hand) -> tuple[Shell, ...]:
    return _over_bass(chord, hand) if _lower_name(chord) == "bass" else first_legal(chord, hand, _tiers(chord))


def first_legal(chord: Chord, hand: Hand, tiers: Sequence[tuple[str, ...]]) -> tuple[Shell, ...]:
    """The legal shells of the first of these tiers that has any."""
    for tier in tiers:
        found = tuple(shell for upper in tier for shell in _shells(chord, hand, upper))
        if found:
            return found
    return ()


def former_tiers(chord: Chord, sixths: bool) -> tuple[tuple[str, ...], ...]:
    """What older companions took. sixths: whether third and sixth might do for sixth chords besides the fifth."""
    if chord.family != "sixth":
        return _tiers(chord)
    if _lower_name(chord) == "bass":
        return BASS_TIERS
    return (("fifth", "third", "sixth"), ("octave",)) if sixths else (("fifth",), ("third", "sixth"), ("octave",))


def _over_bass(chord: Chord, hand: Hand) -> tuple[Shell, ...]:
    """The first tier with a legal shell, and at octaves of the bass below its places what a later tier allows there."""
    found: tuple[Shell, ...] = ()
    for tier in _tiers(chord):
        if tier == ("octave",) and found:
            break
        lowest = min((shell.lower.midi for shell in found), default=hand.highest_root + 1)
        shells = (shell for upper in tier for shell in _shells(chord, hand, upper))
        found += tuple(shell for shell in shells if shell.lower.midi < lowest)
    return found


def _shells(chord: Chord, hand: Hand, upper: str) -> tuple[Shell, ...]:
    """The legal shells with that upper note, from low to high; none where the chord has no such tone."""
    below, above = _lower_tone(chord), _upper_tone(chord, upper)
    if above is None or (above.pc == below.pc and upper != "octave"):
        return ()
    kind = f"{_lower_name(chord)}-{upper}"
    found = []
    lower = below.at_or_above(hand.lowest_root)
    while lower.midi <= hand.highest_root:
        near = above.at_or_above(lower.midi + 1)
        found.append(Shell(kind, lower.plain, near.plain))
        far = Pitch(near.tone, near.octave + 1)
        if upper == "third" and far.midi - lower.midi in TENTHS:
            found.append(Shell(kind, lower.plain, far.plain))
        lower = Pitch(below, lower.octave + 1)
    return tuple(shell for shell in found if hand.allows(*shell.midi))


def _where(chord: Chord, label: str) -> str:
    return f"{label}, {chord}" if label and label != str(chord) else str(chord)


def _nothing_fits(chord: Chord, hand: Hand, label: str) -> str:
    advice = _advice(hand, lambda other: bool(_first_legal(chord, other)))
    return f"{_where(chord, label)}: no shell lies within {hand} and the low-interval limits; {advice}."


def _advice(hand: Hand, fits: Callable[[Hand], bool]) -> str:
    """The smallest change of one setting that would make room, in words; a wider stretch only where no range helps."""
    for words, name, midi in _changes(hand):
        change: dict[str, Any] = {name: midi}
        try:
            other = replace(hand, **change)
        except SettingsError:
            continue  # past the end of the keyboard
        if fits(other):
            return f"{words} would help"
    return "a wider range would help"


def _changes(hand: Hand) -> Iterator[tuple[str, str, int]]:
    """(words, name of the setting, its value) of every change that would make room, the smallest first."""
    for step in range(1, 13):
        for name, words, way in (
            ("highest_top", "top note", 1),
            ("highest_root", "root", 1),
            ("lowest_root", "root", -1),
        ):
            midi = getattr(hand, name) + way * step
            yield f"a {'highest' if way > 0 else 'lowest'} {words} of {pitch_name(midi)}", name, midi
    for reach in range(hand.reach + 1, WIDEST_REACH + 1):
        yield f"a reach of {reach}", "reach", reach
