"""Lines that set the stand: hands, loop, tempo, key, what sounds, and shells."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import TYPE_CHECKING

from companion.base.text import quoted
from companion.chart.lesson import HANDS
from companion.errors import SettingsError
from companion.groove.calls import CALLS_WHEN
from companion.practice.drills.fading import Cue
from companion.session.keys import ORDERS
from companion.session.loops import find_loop
from companion.session.stand import Stand, shell_words
from companion.session.stand_changes import next_loop
from companion.session.tempi import typed_tempo
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin
from companion.tui.draw.view import View

if TYPE_CHECKING:
    from companion.cli.lines.sitting import Sitting

TEMPO_IS_FIXED = 'The climb sets the tempo. "play along" gives it back to you.'
STEP_BPM = 1.0
VOICES = {"click": "click", "bass": "bass", "shells": "left", "melody": "right", "called": "calls"}
MOST_PASSES = 16  # in each key
_PLACE = re.compile(r"(.+?)\.(\d{1,4})(?:\.([1-9]\d?))?")
Do = Callable[["Sitting", str], None]


def hands(sitting: Sitting, rest: str) -> None:
    """The hands that the student plays with."""
    hands, _, others = rest.casefold().partition(" ")
    if hands not in HANDS or others not in ("", "rest on", "rest off"):
        raise SettingsError(f'"hands {rest}": expected left, right or both, and "rest on" where I play the other one.')
    sounds = {"": None, "rest on": True, "rest off": False}[others]
    if sitting.change(lambda stand: stand.with_hands(hands, sounds)):
        sitting.teller.song(sitting.conductor.stand, sitting.conductor.kind)


def loop(sitting: Sitting, rest: str) -> None:
    """The bars that are practised."""
    make = {"": next_loop, "next": next_loop}.get(rest.casefold())
    if sitting.change(make or (lambda stand: find_loop(stand, rest))):
        stand = sitting.conductor.stand
        sitting.teller.tell(
            "loop", f"The loop is {stand.loop_name}.", loop=stand.loop_name, bars=[i + 1 for i in stand.loop]
        )


def tempo(sitting: Sitting, rest: str) -> None:
    """A tempo, double or half of it, or the song's own."""
    stand = sitting.conductor.stand
    _tempo_to(sitting, stand.song.tempo_bpm if rest.casefold() == "target" else typed_tempo(rest, stand.tempo_bpm))


def times(word: str) -> Do:
    """word: double or half."""
    return lambda sitting, rest: tempo(sitting, word)


def tap(sitting: Sitting, rest: str) -> None:
    """A beat of the tempo that is wanted."""
    tempo_bpm = sitting.taps.tap(sitting.clock())
    if tempo_bpm is not None:
        _tempo_to(sitting, tempo_bpm)


def _tempo_to(sitting: Sitting, tempo_bpm: float) -> None:
    if sitting.conductor.tempo_is_fixed:
        raise SettingsError(TEMPO_IS_FIXED)
    sitting.did(sitting.conductor.change_tempo(tempo_bpm))
    now_bpm = sitting.conductor.stand.tempo_bpm
    sitting.teller.tell("tempo", f"The tempo is {now_bpm:g}.", tempo=round(now_bpm, 1))


def by(sign: int) -> Do:
    """One beat a minute faster, or as many as are named; sign: -1 for slower."""

    def do(sitting: Sitting, rest: str) -> None:
        step_bpm = float(rest) if rest.isdecimal() else STEP_BPM
        _tempo_to(sitting, sitting.conductor.stand.tempo_bpm + sign * step_bpm)

    return do


def key(sitting: Sitting, rest: str) -> None:
    """Another key."""
    key = Key.parse(rest)
    if sitting.change(lambda stand: stand.with_key(key)):
        sitting.teller.song(sitting.conductor.stand, sitting.conductor.kind)


def keys(sitting: Sitting, rest: str) -> None:
    """Through all keys, or no longer."""
    order, _, passes = rest.casefold().partition(" ")
    if order == "off":
        sitting.conductor.keys.stay()
        sitting.say("It stays in this key.")
    elif order in ORDERS and (not passes or (passes.isdecimal() and 1 <= int(passes) <= MOST_PASSES)):
        sitting.did(sitting.conductor.through_all_keys(order, int(passes or 1)))
        sitting.say(f"Through all keys {ORDERS[order]}.")
    else:
        raise SettingsError(f'"keys {rest}": expected {", ".join(ORDERS)} or off, and how many passes in each key.')


# --- what sounds


def one_of(what: str, names: Collection[str], make: Callable[[str], Callable[[Stand], Stand]]) -> Do:
    """A line that sets one thing by its name."""

    def do(sitting: Sitting, rest: str) -> None:
        if rest.casefold() not in names:
            raise SettingsError(f"{quoted(rest)} is no {what}: expected one of {', '.join(names)}.")
        if sitting.change(make(rest.casefold())):
            sitting.say(f"The {what}: {rest.casefold()}.")

    return do


def fields(**of: Callable[[Stand, str], object]) -> Callable[[str], Callable[[Stand], Stand]]:
    """What `one_of` makes of a name: fields of the stand, each by a function of the stand and the name."""
    return lambda name: lambda stand: stand.change(**{field: value(stand, name) for field, value in of.items()})


def calls(sitting: Sitting, rest: str) -> None:
    """When the changes are called."""
    when = {"on": "shown"}.get(rest.casefold(), rest.casefold())
    if when not in CALLS_WHEN:
        raise SettingsError(f'"calls {rest}": expected off, on (silent where chords are hidden) or always.')
    if sitting.change(lambda stand: stand.change(calls=when)):
        sitting.calls_news()


def aloud(sitting: Sitting, rest: str) -> None:
    """Whether what a pass came to is said."""
    if rest.casefold() not in ("on", "off"):
        raise SettingsError(f'"aloud {rest}": expected on or off.')
    sitting.student.keep_aloud(rest.casefold() == "on")
    sitting.say(sitting.aloud.tried(sitting.output))


def volume(sitting: Sitting, rest: str) -> None:
    """How loud a part is."""
    voice, _, percent = rest.casefold().partition(" ")
    if voice not in VOICES or not (percent.isdecimal() and int(percent) <= 100):
        raise SettingsError(
            f'"volume {rest}": expected one of {", ".join(VOICES)} and 0 to 100, such as "volume bass 40".'
        )
    sitting.student.set_volume(VOICES[voice], int(percent) / 100)
    sitting.teller.tell("volume", f"The {voice}: {int(percent)} per cent.", voice=voice, percent=int(percent))


# --- shells


def _place(sitting: Sitting, text: str) -> tuple[int, int]:
    """ "A.3.2" -> the bar of the chorus and the chord in it, from 0."""
    stand, match = sitting.conductor.stand, _PLACE.fullmatch(text)
    for bar in stand.bars if match is not None else ():
        if match is not None and (bar.section.casefold(), bar.bar) == (match[1].casefold(), int(match[2])):
            number = int(match[3] or 1) - 1
            if number < len(bar.chords):
                return bar.index, number
    raise SettingsError(
        f"{quoted(text)}: no chord is there; expected a section, a bar of it and the chord in it, such as A.1.1."
    )


def _check_shown(sitting: Sitting, index: int) -> None:
    state = sitting.conductor.state
    if View(state.stand).after(state).cue(index) < Cue.NAMES:
        raise SettingsError('That is hidden now. "look" and the bar shows it, which counts as a slip.')


def shell(sitting: Sitting, rest: str) -> None:
    """The shells that a chord may have, or one of them for it."""
    where, _, wanted = rest.partition(" ")
    index, number = _place(sitting, where)
    _check_shown(sitting, index)
    if not wanted:
        sitting.teller.shells(sitting.conductor.stand, index, number)
        return
    pin = None if wanted.casefold() == "free" else Pin.parse(wanted)
    if sitting.shells.pin(index, number, pin):
        choice = sitting.conductor.stand.choices_at(index)[number][1]
        kept = (
            f"Pinned, and kept for this song: {shell_words(choice.shell)}." if pin else "The companion chooses again."
        )
        sitting.say(f'{kept} "undo" takes it back.')


def why(sitting: Sitting, rest: str) -> None:
    """Why this shell, of the chord that sounds where none is named."""
    state = sitting.conductor.state
    view = View(state.stand).after(state)
    index, number = _place(sitting, rest) if rest else (view.here, view.chord_no)
    _check_shown(sitting, index)
    placed, choice = state.stand.choices_at(index)[number]
    fingers = f", fingers {choice.fingers}" if choice.fingers else ""
    sitting.say(
        f"{placed.symbol}: {shell_words(choice.shell)}{fingers}. {choice.why[:1].upper()}{choice.why[1:].rstrip('.')}."
    )


def undo(sitting: Sitting, rest: str) -> None:
    """The last change is taken back."""
    sitting.shells.take_back(lambda tempo_bpm: _tempo_to(sitting, tempo_bpm))
