"""What may be typed while one practises without the app: a table of lines, each asking of the conductor what a key of the app does."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from companion.base.text import nearest, quoted
from companion.cli.lines import playing, setting
from companion.cli.lines.playing import WAYS
from companion.errors import ExitCode, SettingsError
from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES
from companion.session.drill import KINDS
from companion.session.keys import ORDERS

if TYPE_CHECKING:
    from companion.cli.lines.sitting import Sitting

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
        playing.enter(sitting)
        return
    folded = words.casefold()
    if folded in WAYS and folded not in NAMES:
        playing.way(sitting, words)
        return
    for command in BY_LENGTH:
        if folded == command.name or folded.startswith(f"{command.name} "):
            command.do(sitting, words[len(command.name) :].strip())
            return
    if re.fullmatch(r"\d+\s*-\s*\d+", words):
        setting.loop(sitting, words)
    else:
        raise SettingsError(f'{quoted(words)} is nothing to be done here: {nearest(folded, NAMES)} "help" tells all.')


# --- all else


def _song(sitting: Sitting, rest: str) -> None:
    """What is on the stand; with a song's name, another one on it."""
    if rest:
        from companion.store.library import find_song

        sitting.put(find_song(rest, sitting.paths, sitting.student.now), as_wanted=False)
    sitting.teller.way(sitting.conductor)


def _today(sitting: Sitting, rest: str) -> None:
    if rest:
        sitting.todays.start(_item(rest))
    else:
        sitting.todays.tell()


def _done(sitting: Sitting, rest: str) -> None:
    sitting.todays.tick(_item(rest) if rest else 0)


def _item(text: str) -> int:
    if not text.isdecimal() or not int(text):
        raise SettingsError(f"{quoted(text)}: expected the number of an item of today's plan.")
    return int(text)


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
    LineCommand("start", "[BAR]", "count in and play, from that bar on; an empty line does it too", playing.start),
    LineCommand("stop", "", "stop; the pass that is played does not count", playing.stop),
    LineCommand("x", "", "the bar that sounds slipped; just after a bar line, the bar before it", playing.slip),
    LineCommand("ran", "", "all passes that wait ran, but for the bars you told; an empty line says so too", playing.ran),
    LineCommand("slipped", "BARS", "these bars of the last pass slipped, such as slipped 3 5-6, and all else that waits ran", playing.slipped),
    LineCommand("broke off", "", "the pass that sounds broke off, else the last one that waits", playing.broke_off),
    LineCommand("way", "WAY", f"how to practise: {', '.join(KINDS.values())}; the way alone does it too", playing.way),
    LineCommand("hands", "left, right or both", "the hands you play with; rest on behind it: I play the other one", setting.hands),
    LineCommand("loop", "BARS", "a section, bars such as 5-8 or B 3-4, whole, or next", setting.loop),
    LineCommand("tempo", "BPM", "the tempo; or double, half, or target for the song's own", setting.tempo),
    LineCommand("slower", "[N]", "one beat a minute slower, or N", setting.by(-1)),
    LineCommand("faster", "[N]", "one beat a minute faster, or N", setting.by(1)),
    LineCommand("half", "", "half the tempo", setting.times("half")),
    LineCommand("double", "", "twice the tempo", setting.times("double")),
    LineCommand("tap", "", "typed again and again on the beat: that tempo", setting.tap),
    LineCommand("key", "KEY", "another key, such as Eb or F#m", setting.key),
    LineCommand("keys", "ORDER [N]", f"through all keys: {', '.join(ORDERS)}, N passes in each; or off", setting.keys),
    LineCommand(
        "pattern", "NAME", f"the left hand's rhythm: {', '.join(PATTERN_NAMES)}",
        setting.one_of("pattern", PATTERN_NAMES, setting.fields(pattern=lambda _, name: name)),
    ),
    LineCommand(
        "click", "NAME", f"the click: {', '.join(CLICK_MODES)}",
        setting.one_of("click", CLICK_MODES, setting.fields(click=lambda stand, name: replace(stand.click, mode=name))),
    ),
    LineCommand("bass", "NAME", f"the bass: {', '.join(BASS_STYLES)}", setting.one_of("bass", BASS_STYLES, setting.fields(bass=lambda _, name: name))),
    LineCommand(
        "shells", "on or off", "whether the shells sound",
        setting.one_of("sound of the shells", ("on", "off"), setting.fields(demonstrate=lambda _, name: name == "on")),
    ),
    LineCommand(
        "count in", "follow, 0, 1 or 2", "bars counted in, from the next start on; follow: as many as two seconds need at the tempo",
        setting.one_of("count-in", ("follow", "0", "1", "2"), setting.fields(count_in_bars=lambda _, name: None if name == "follow" else int(name))),
    ),
    LineCommand("calls", "off, on or always", "each chord's name spoken a beat ahead", setting.calls),
    LineCommand("aloud", "on or off", "after a pass the system's speech says what it came to", setting.aloud),
    LineCommand("volume", "PART 0-100", f"how loud a part is: {', '.join(setting.VOICES)}", setting.volume),
    LineCommand("shell", "PLACE [SHELL]", "the shells for a chord, such as shell A.1.1; with one of them, or free: choose it", setting.shell),
    LineCommand("why", "[PLACE]", "why this shell", setting.why),
    LineCommand("look", "[BAR]", "a look at a hidden bar, which counts as a slip", playing.look),
    LineCommand("alone", "", "just the change that slipped, or back to the loop before", playing.alone),
    LineCommand("undo", "", "take the last change back", setting.undo),
    LineCommand("chart", "", "the bars of the loop", lambda sitting, _: sitting.teller.chart(sitting.conductor.state)),
    LineCommand("song", "[SONG]", "what is on the stand and how it is practised; another song", _song),
    LineCommand("today", "[N]", "what to practise today; start item N", _today),
    LineCommand("next", "", "the next item of today", lambda sitting, _: sitting.todays.start()),
    LineCommand("done", "[N]", "tick the item off by hand, or item N", _done),
    LineCommand("tell", "WHAT", "bars: each bar as it begins; ahead: a bar before; passes: only after passes; spoken or symbols: how chords are named", _tell),
    LineCommand("wait", "[N passes, N seconds or end]", "take the next line after that, for scripts", playing.wait),
    LineCommand("help", "", "all of this", _help),
    LineCommand("quit", "", "leave; so does the end of input", _quit),
)  # fmt: skip
NAMES = tuple(command.name for command in COMMANDS)
BY_LENGTH = sorted(COMMANDS, key=lambda command: -len(command.name))
