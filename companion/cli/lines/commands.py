"""What may be typed while one practises without the app: a table of lines, each asking of the conductor what a key of the app does."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from companion.base.rules import number as number_rule
from companion.base.text import nearest, quoted
from companion.chart.lesson import HANDS
from companion.errors import ExitCode, SettingsError
from companion.groove.calls import CALLS_WHEN, MOST_BPM
from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES
from companion.practice.drills.fading import Cue
from companion.session.called import NEEDS_BUILTIN, too_fast
from companion.session.changes import NeedsKeyboard
from companion.session.drill import KINDS
from companion.session.keys import ORDERS
from companion.session.loops import find_bars, find_loop
from companion.session.one_change import practise_alone
from companion.session.stand import TEMPO_LIMITS, Stand, shell_words
from companion.session.stand_changes import next_loop, whole_form
from companion.session.swung_sheet import ready_to_swing
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin
from companion.tui.draw.view import View

if TYPE_CHECKING:
    from companion.cli.lines.sitting import Sitting

TEMPO_IS_FIXED = 'The climb sets the tempo. "play along" gives it back to you.'
STEP_BPM = 1.0
VOICES = {"click": "click", "bass": "bass", "shells": "left", "melody": "right", "called": "calls"}
MOST_PASSES = 16  # in each key
_ON_OFF = {"on": True, "off": False}
_WAYS = {words: kind for kind, words in KINDS.items()} | {
    "memory": "fade",
    "tempo": "climb",
    "memory and tempo": "fade+climb",
    "along": "play",
    "free": "free",
    "free time": "free",
    "symbols": "symbols",
}
_PLACE = re.compile(r"(.+?)\.(\d{1,4})(?:\.([1-9]\d?))?")

Do = Callable[["Sitting", str], None]


@dataclass(frozen=True, slots=True)
class LineCommand:
    """name: what is typed. takes: what may stand behind it, for the help. does: in a few words."""

    name: str
    takes: str
    does: str
    do: Do


def obey(sitting: Sitting, line: str) -> None:
    """Do what a typed line says. Raises CompanionError or ValueError with a sentence where that cannot be."""
    words = " ".join(line.split())
    if not words:
        _enter(sitting)
        return
    folded = words.casefold()
    if folded in _WAYS and folded not in NAMES:
        _way(sitting, words)
        return
    for command in BY_LENGTH:
        if folded == command.name or folded.startswith(f"{command.name} "):
            command.do(sitting, words[len(command.name) :].strip())
            return
    if re.fullmatch(r"\d+\s*-\s*\d+", words):
        _loop(sitting, words)
    else:
        raise SettingsError(f'{quoted(words)} is nothing to be done here: {nearest(folded, NAMES)} "help" tells all.')


def _enter(sitting: Sitting) -> None:
    """An empty line: start; and where it is asked how the pass went, that it ran, or that the bars named before slipped."""
    conductor = sitting.conductor
    if conductor.asking:
        _ran(sitting, "")
    elif conductor.playing:
        raise SettingsError('It plays: "stop" stops it.')
    else:
        sitting.did(conductor.start())


# --- playing


def _start(sitting: Sitting, rest: str) -> None:
    conductor = sitting.conductor
    if conductor.playing:
        raise SettingsError('It plays already: "stop" stops it.')
    first = 0
    if rest:
        first = conductor.stand.loop.index(min(find_bars(conductor.stand, rest)))
    sitting.did(conductor.start(first))


def _stop(sitting: Sitting, rest: str) -> None:
    if not (sitting.conductor.playing or sitting.conductor.asking):
        raise SettingsError("Nothing is played.")
    sitting.did(sitting.conductor.stop())


def _check_asking(sitting: Sitting) -> None:
    if not sitting.conductor.asking:
        raise SettingsError("No pass waits for an answer.")


def _ran(sitting: Sitting, rest: str) -> None:
    _check_asking(sitting)
    sitting.did(sitting.conductor.answer_by_slips() or sitting.conductor.answer("1"))


def _slipped(sitting: Sitting, rest: str) -> None:
    _check_asking(sitting)
    if not rest:
        raise SettingsError('Which bars slipped? Expected such as "slipped 3 5-6" or "slipped A 3".')
    for index in find_bars(sitting.conductor.stand, rest):
        sitting.conductor.mark_slip(index)
    sitting.did(sitting.conductor.answer_by_slips())


def _broke_off(sitting: Sitting, rest: str) -> None:
    _check_asking(sitting)
    sitting.did(sitting.conductor.answer("4"))


def _look(sitting: Sitting, rest: str) -> None:
    state = sitting.conductor.state
    view = View(state.stand).after(state)
    index = min(find_bars(state.stand, rest)) if rest else view.here
    if not view.hides or view.cue(index) == Cue.KEYS:
        raise SettingsError("Nothing is hidden there.")
    sitting.conductor.peek(index)
    sitting.teller.looked(state, index)


def _alone(sitting: Sitting, rest: str) -> None:
    changes = practise_alone(sitting.conductor)
    if not changes:
        raise SettingsError("Nothing slipped that could be practised by itself.")
    sitting.did(changes)


def _wait(sitting: Sitting, rest: str) -> None:
    """Until a pass is over, so many of them, so many seconds, or until nothing sounds any more."""
    match = re.fullmatch(r"(?:(\d{1,4}(?:\.\d+)?)\s*)?(pass|passes|seconds?|s)?|(end)", rest.casefold())
    if match is None:
        raise SettingsError(
            f'"wait {rest}": expected such as "wait", "wait 2 passes", "wait 10 seconds" or "wait end".'
        )
    conductor, now_s, before = sitting.conductor, sitting.clock(), sitting.passes
    count = float(match[1] or 1)
    if match[2] in ("s", "second", "seconds"):
        sitting.wait(lambda: sitting.clock() >= now_s + count, now_s + count)
    elif match[3]:
        sitting.wait(lambda: not conductor.playing)
    else:
        sitting.wait(lambda: sitting.passes >= before + count or not conductor.playing)


# --- how it is practised


def _way(sitting: Sitting, rest: str) -> None:
    kind = _WAYS.get(rest.casefold(), rest.casefold())
    if kind not in KINDS:
        raise SettingsError(f"{quoted(rest)} is no way of practising: {nearest(rest, _WAYS)}")
    if kind == "swing" and not sitting.change(ready_to_swing):
        return
    if kind == "together" and not sitting.change(lambda stand: stand.with_hands("both")):
        return
    changes = sitting.conductor.practise(kind)
    sitting.did(changes)
    if NeedsKeyboard() not in changes:
        sitting.teller.way(sitting.conductor)


def _hands(sitting: Sitting, rest: str) -> None:
    hands, _, others = rest.casefold().partition(" ")
    if hands not in HANDS or others not in ("", "rest on", "rest off"):
        raise SettingsError(f'"hands {rest}": expected left, right or both, and "rest on" where I play the other one.')
    sounds = {"": None, "rest on": True, "rest off": False}[others]
    if sitting.change(lambda stand: stand.with_hands(hands, sounds)):
        sitting.teller.song(sitting.conductor.stand, sitting.conductor.kind)


def _loop(sitting: Sitting, rest: str) -> None:
    make = {"": next_loop, "next": next_loop, "whole": whole_form}.get(rest.casefold())
    if sitting.change(make or (lambda stand: find_loop(stand, rest))):
        stand = sitting.conductor.stand
        sitting.teller.tell(
            "loop", f"The loop is {stand.loop_name}.", loop=stand.loop_name, bars=[i + 1 for i in stand.loop]
        )


def _tempo(sitting: Sitting, rest: str) -> None:
    if rest.casefold() == "target":
        _tempo_to(sitting, sitting.conductor.stand.song.tempo_bpm)
        return
    rule = number_rule(*TEMPO_LIMITS)
    try:
        _tempo_to(sitting, rule.read(float(rest)))
    except ValueError:
        raise SettingsError(
            f"{quoted(rest)} is no tempo: expected {rule.expected} beats a minute, or target."
        ) from None


def _tempo_to(sitting: Sitting, tempo_bpm: float) -> None:
    if sitting.conductor.tempo_is_fixed:
        raise SettingsError(TEMPO_IS_FIXED)
    sitting.did(sitting.conductor.change_tempo(tempo_bpm))
    now_bpm = sitting.conductor.stand.tempo_bpm
    sitting.teller.tell("tempo", f"The tempo is {now_bpm:g}.", tempo=round(now_bpm, 1))


def _by(change: Callable[[float, float], float], usual: float) -> Do:
    """usual: by how much where no number stands behind it."""

    def do(sitting: Sitting, rest: str) -> None:
        by = float(rest) if rest.isdecimal() else usual
        _tempo_to(sitting, change(sitting.conductor.stand.tempo_bpm, by))

    return do


def _key(sitting: Sitting, rest: str) -> None:
    key = Key.parse(rest)
    if sitting.change(lambda stand: stand.with_key(key)):
        sitting.teller.song(sitting.conductor.stand, sitting.conductor.kind)


def _keys(sitting: Sitting, rest: str) -> None:
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


def _one_of(what: str, names: dict[str, str] | tuple[str, ...], make: Callable[[str], Callable[[Stand], Stand]]) -> Do:
    """A line that sets one thing by its name."""

    def do(sitting: Sitting, rest: str) -> None:
        if rest.casefold() not in names:
            raise SettingsError(f"{quoted(rest)} is no {what}: expected one of {', '.join(names)}.")
        if sitting.change(make(rest.casefold())):
            sitting.say(f"The {what}: {rest.casefold()}.")

    return do


def _set(**of: Callable[[Stand, str], object]) -> Callable[[str], Callable[[Stand], Stand]]:
    return lambda name: lambda stand: stand.change(**{field: value(stand, name) for field, value in of.items()})


def _calls(sitting: Sitting, rest: str) -> None:
    when = {"on": "shown"}.get(rest.casefold(), rest.casefold())
    if when not in CALLS_WHEN:
        raise SettingsError(f'"calls {rest}": expected off, on (silent where chords are hidden) or always.')
    if not sitting.change(lambda stand: stand.change(calls=when)):
        return
    tempo_bpm = sitting.conductor.stand.tempo_bpm
    if when == "off":
        sitting.say("The changes are not called.")
    elif sitting.output not in ("builtin", ""):
        sitting.say(NEEDS_BUILTIN)
    elif tempo_bpm > MOST_BPM:
        sitting.say(too_fast(tempo_bpm))
    else:
        sitting.say("The changes are called, each a beat ahead.")


def _volume(sitting: Sitting, rest: str) -> None:
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


def _shell(sitting: Sitting, rest: str) -> None:
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


def _why(sitting: Sitting, rest: str) -> None:
    state = sitting.conductor.state
    view = View(state.stand).after(state)
    index, number = _place(sitting, rest) if rest else (view.here, view.chord_no)
    _check_shown(sitting, index)
    placed, choice = state.stand.choices_at(index)[number]
    fingers = f", fingers {choice.fingers}" if choice.fingers else ""
    sitting.say(
        f"{placed.symbol}: {shell_words(choice.shell)}{fingers}. {choice.why[:1].upper()}{choice.why[1:].rstrip('.')}."
    )


def _undo(sitting: Sitting, rest: str) -> None:
    sitting.shells.take_back(lambda tempo_bpm: _tempo_to(sitting, tempo_bpm))


# --- all else


def _song(sitting: Sitting, rest: str) -> None:
    """What is on the stand; with a song's name, another one on it."""
    if rest:
        from companion.store.library import find_song

        sitting.put(find_song(rest, sitting.paths, sitting.student.now), as_wanted=False)
    sitting.teller.way(sitting.conductor)


def _today(sitting: Sitting, rest: str) -> None:
    if not rest:
        sitting.todays.tell()
    elif rest.isdecimal():
        sitting.todays.start(int(rest))
    else:
        raise SettingsError(f'"today {rest}": expected the number of an item, or nothing to hear all of them.')


def _tell(sitting: Sitting, rest: str) -> None:
    from companion.cli.lines.telling import NAMES, TELLS

    word = rest.casefold()
    if word in TELLS:
        sitting.teller.tells = word
    elif word in NAMES:
        sitting.teller.names = word
    else:
        raise SettingsError(f'"tell {rest}": expected {", ".join((*TELLS, *NAMES))}.')


def _help(sitting: Sitting, rest: str) -> None:
    for command in COMMANDS:
        sitting.teller.tell("help", f"{f'{command.name} {command.takes}'.strip()}: {command.does}.", line=command.name)


def _quit(sitting: Sitting, rest: str) -> None:
    sitting.over = ExitCode.OK


COMMANDS = (
    LineCommand("start", "[BAR]", "count in and play, from that bar on; an empty line does it too", _start),
    LineCommand("stop", "", "stop; the pass that is played does not count", _stop),
    LineCommand("ran", "", "the pass ran; an empty line says so too", _ran),
    LineCommand("slipped", "BARS", "these bars of the pass slipped, such as slipped 3 5-6", _slipped),
    LineCommand("broke off", "", "the pass broke off", _broke_off),
    LineCommand("way", "WAY", f"how to practise: {', '.join(KINDS.values())}; the way alone does it too", _way),
    LineCommand("hands", "left, right or both", "the hands you play with; rest on behind it: I play the other one", _hands),
    LineCommand("loop", "BARS", "a section, bars such as 5-8, whole, or next", _loop),
    LineCommand("tempo", "BPM", "the tempo, or target for the song's own", _tempo),
    LineCommand("slower", "[N]", "one beat a minute slower, or N", _by(lambda bpm, by: bpm - by, STEP_BPM)),
    LineCommand("faster", "[N]", "one beat a minute faster, or N", _by(lambda bpm, by: bpm + by, STEP_BPM)),
    LineCommand("half", "", "half the tempo", _by(lambda bpm, by: bpm / by, 2.0)),
    LineCommand("double", "", "twice the tempo", _by(lambda bpm, by: bpm * by, 2.0)),
    LineCommand("key", "KEY", "another key, such as Eb or F#m", _key),
    LineCommand("keys", "ORDER [N]", f"through all keys: {', '.join(ORDERS)}, N passes in each; or off", _keys),
    LineCommand(
        "pattern", "NAME", f"the left hand's rhythm: {', '.join(PATTERN_NAMES)}",
        _one_of("pattern", PATTERN_NAMES, _set(pattern=lambda _, name: name)),
    ),
    LineCommand(
        "click", "NAME", f"the click: {', '.join(CLICK_MODES)}",
        _one_of("click", CLICK_MODES, _set(click=lambda stand, name: replace(stand.click, mode=name))),
    ),
    LineCommand("bass", "NAME", f"the bass: {', '.join(BASS_STYLES)}", _one_of("bass", BASS_STYLES, _set(bass=lambda _, name: name))),
    LineCommand(
        "shells", "on or off", "whether the shells sound",
        _one_of("sound of the shells", tuple(_ON_OFF), _set(demonstrate=lambda _, name: _ON_OFF[name])),
    ),
    LineCommand(
        "count in", "0, 1 or 2", "bars counted in, from the next start on",
        _one_of("count-in", ("0", "1", "2"), _set(count_in_bars=lambda _, name: int(name))),
    ),
    LineCommand("calls", "off, on or always", "each chord's name spoken a beat ahead", _calls),
    LineCommand("volume", "PART 0-100", f"how loud a part is: {', '.join(VOICES)}", _volume),
    LineCommand("shell", "PLACE [SHELL]", "the shells for a chord, such as shell A.1.1; with one of them, or free: choose it", _shell),
    LineCommand("why", "[PLACE]", "why this shell", _why),
    LineCommand("look", "[BAR]", "a look at a hidden bar, which counts as a slip", _look),
    LineCommand("alone", "", "just the change that slipped, or back to the loop before", _alone),
    LineCommand("undo", "", "take the last change back", _undo),
    LineCommand("chart", "", "the bars of the loop", lambda sitting, _: sitting.teller.chart(sitting.conductor.state)),
    LineCommand("song", "[SONG]", "what is on the stand and how it is practised; another song", _song),
    LineCommand("today", "[N]", "what to practise today; start item N", _today),
    LineCommand("next", "", "the next item of today", lambda sitting, _: sitting.todays.start()),
    LineCommand("tell", "WHAT", "bars: each bar as it begins; passes: only after passes; spoken or symbols: how chords are named", _tell),
    LineCommand("wait", "[N passes, N seconds or end]", "take the next line after that, for scripts", _wait),
    LineCommand("help", "", "all of this", _help),
    LineCommand("quit", "", "leave; so does the end of input", _quit),
)  # fmt: skip
NAMES = tuple(command.name for command in COMMANDS)
BY_LENGTH = sorted(COMMANDS, key=lambda command: -len(command.name))
