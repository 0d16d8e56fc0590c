"""The key of each bar of a sheet: by its signature and mode, and where nobody wrote a signature by where the tune is at home.

A chart has major and minor keys: a mode becomes the one on its own keynote with the same third (dorian: minor), the tones that differ get their signs.
"""

from __future__ import annotations

from companion.importing.score import Sheet, SheetBar, key_of_signature
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.pitch import LETTERS, Tone
from companion.theory.symbols import parse_chord

# Mode -> fifths from the signature of its major key to that of the key on its keynote, and that key's mode.
_MODES = {
    "major": (0, "major"), "ionian": (0, "major"), "mixolydian": (1, "major"), "lydian": (-1, "major"),
    "minor": (0, "minor"), "aeolian": (0, "minor"), "dorian": (-1, "minor"), "phrygian": (1, "minor"),
    "locrian": (2, "minor"),
}  # fmt: skip
PLAIN_MODES = ("major", "minor", "")


def keys_of(sheet: Sheet) -> list[Key]:
    """The key of each bar; what had to be chosen is remarked upon."""
    chords = [
        parse_chord(symbol)
        for bar in sheet.bars
        for _, symbol in sorted(bar.chords, key=lambda chord: chord[0])
        if symbol
    ]
    home = _home(sheet.bars, chords)
    if home is not None:
        sheet.remark("", f"no key signature is written; {home.name} taken, where the tune begins and ends")
        return [home] * len(sheet.bars)
    return [_key_of(sheet, bar, chords[-1] if chords else None) for bar in sheet.bars]


def _key_of(sheet: Sheet, bar: SheetBar, last: Chord | None) -> Key:
    """Where the file gives no mode the last chord tells major from minor."""
    fifths = max(-7, min(7, bar.fifths))
    if fifths != bar.fifths:
        sheet.remark(bar.number, f"a signature of {abs(bar.fifths)} signs has no key; seven are taken")
    minor = key_of_signature(fifths, "minor")
    if not bar.mode:
        is_minor = last is not None and last.root == minor.tonic and "b3" in last.degrees
        return minor if is_minor else key_of_signature(fifths)
    more, mode = _MODES.get(bar.mode, (0, "major"))
    key = key_of_signature(fifths + more, mode)
    if bar.mode not in PLAIN_MODES:
        sheet.remark("", f"a chart has no {bar.mode} mode; {key.name} taken, with signs where the notes differ")
    return key


def _home(bars: list[SheetBar], chords: list[Chord]) -> Key | None:
    """The key of a sheet without a sharp or flat in any signature, where it begins and ends on one root, and more of what sounds belongs to the key
    there than to C major and A minor; None where the signature is to be believed."""
    if not chords or any(bar.fifths or bar.mode not in PLAIN_MODES for bar in bars):
        return None
    last = chords[-1]
    if chords[0].root != last.root or last.root.name in ("C", "A") or abs(last.root.alter) > 1:
        return None
    key = Key(last.root, "minor" if "b3" in last.degrees else "major")
    if abs(key.fifths) > 6:
        key = Key.usual(key.tonic.pc, key.mode)
    sounding = [pc for chord in chords for pc in chord.pitch_classes]
    sounding += [note.pitch.midi % 12 for bar in bars for note in bar.notes if note.pitch is not None]
    outside, before = (
        sum(pc not in scale for pc in sounding) for scale in (_scale(key), _scale(key_of_signature(0)) | {8})
    )
    return key if outside < before else None


def _scale(key: Key) -> frozenset[int]:
    """Its pitch classes; in minor the leading note too."""
    tones = {(Tone(letter).pc + key.signature(letter)) % 12 for letter in LETTERS}
    return frozenset(tones | ({(key.tonic.pc - 1) % 12} if key.mode == "minor" else set()))
