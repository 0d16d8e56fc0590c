"""The stand's single lines: title and state. Each is a row of (text, role) pairs, cut to the width."""

from __future__ import annotations

from collections.abc import Iterator

from companion.base.text import plural
from companion.groove.names import PATTERN_NAMES
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.stand import Stand
from companion.session.stand_changes import FAST_BPM, two_is_enough
from companion.tui.draw.drill import drill_sentence
from companion.tui.draw.row import Row, cut, length, sides
from companion.tui.draw.view import View
from companion.tui.draw.words import click_words, notice_role, signs, tempo_words, whole_words

SILENT_WORDS, NO_SOUND = "plays silently", "no sound"
_SOUND_WORDS = {"builtin": "built-in sound", "midi": "over MIDI", "silent": SILENT_WORDS, "": "sound is starting"}


def title_line(view: View, width: int) -> Row:
    """What is on the stand, where in it one is, and the tempo. In a drill its own sentence says where one stands, so nothing here does."""
    song = view.stand.song
    tempo = tempo_words(view.tempo_bpm if view.tempo_bpm == song.tempo_bpm else round(view.tempo_bpm))
    if view.tempo_bpm != song.tempo_bpm and view.drill is None:
        tempo += f" (target {tempo_words(song.tempo_bpm)})"
    right: Row = [("tempo ", "dim"), (tempo + " ", "strong")]
    left: Row = [(f" {_doing(view)}  ", "strong")]
    left.append((whole_words(song.title, max(0, width - length(left) - length(right) - 1)), "strong"))
    for words, role in _places(view):
        if words and length(left) + length(right) + len(words) + 5 < width:
            left.append((f"   {words}", role))
    return sides(left, right, width) if width >= 40 else cut([*right[1:], *left], width)


def _doing(view: View) -> str:
    if view.waiting is not None:
        return "◇ waits for you"
    if view.counting_in:
        return f"▶ {view.framing}"
    if view.playing and view.beat is None:
        return "▶ starting"
    return "▶" if view.sounding else "■ stopped"


def _places(view: View) -> Iterator[tuple[str, str]]:
    """What else there is to say in one line, what matters most first."""
    stand, song = view.stand, view.stand.song
    if view.next_stand is not None:
        yield f"next key: {signs(view.next_stand.key.name)}", "strong"
    if view.hands != "left":
        yield HAND_WORDS[view.hands], "strong"
    if view.drill is None:
        bar = stand.bars[view.here]
        yield f"{bar.section} {bar.bar}, bar {view.here + 1} of {len(stand.bars)}", "plain"
        if view.beat is not None and view.sounding:
            what = "chorus" if len(stand.loop) == len(stand.bars) else "pass"
            yield f"{what} {view.beat.turn + 1}", "plain"
        yield f"loop {loop_words(stand)}", "plain"
    if not view.hides:  # the name of a key is that of its first chord, often
        yield signs(song.key.name), "dim"
    yield f"{song.meter.name} {song.feel}", "dim"


def loop_words(stand: Stand) -> str:
    """ "whole form", "A, 8 bars", "bars 3 to 6"."""
    if len(stand.loop) == len(stand.bars) or stand.loop_name.startswith("bar"):
        return stand.loop_name
    return f"{stand.loop_name}, {plural(len(stand.loop), 'bar')}"


def saying(view: View, width: int) -> Row | None:
    """What is said for a while, None while nothing is."""
    if view.answer:
        return [(whole_words(f" {signs(view.answer)}", width), "strong")]
    if view.notice:
        return [(whole_words(f" {view.notice}", width), notice_role(view.notice))]
    return None


def state_line(view: View, width: int) -> Row:
    """One thing at a time: of the keys that were struck, for a while anything there is to say, where a drill stands, or what is set."""
    if (said := saying(view, width)) is not None:
        return said
    if view.playing and view.waits:
        ran, broke_off, slip = view.word_keys
        words = f"{plural(view.waits, 'pass waits', 'passes wait')}: {ran} it ran, {slip} a bar slipped, {broke_off} broke off."
        taught = f"{view.taught} " if view.taught else ""
        return [(whole_words(f" {taught}{words}", width), "plain")]
    if view.taught:
        return [(whole_words(f" {view.taught}", width), "strong")]
    if view.drill is not None:
        words = f" {drill_sentence(view.drill)}"
        starts = "" if view.playing or view.asking or view.drill.finished else f" {view.start_key.capitalize()} starts."
        for more in (starts, _offer(view)):
            words += more if len(words) + len(more) <= width else ""
        return [(whole_words(words, width), "strong" if view.drill.finished else "plain")]
    if not view.playing and (offer := _offer(view)):
        return [(whole_words(offer, width), "strong")]
    return _set_up(view, width)


def _offer(view: View) -> str:
    """What would be easier at this tempo, and the key that does it; "" for nothing."""
    if not two_is_enough(view.stand, view.tempo_bpm):
        return ""
    return f" Two chords a bar above {FAST_BPM:g}: {view.pattern_key} plays two to the bar."


def _set_up(view: View, width: int) -> Row:
    stand = view.stand
    pattern = PATTERN_NAMES.get(stand.pattern, stand.pattern).split(" (")[0]
    is_silent = view.sound == "silent"
    set_up = [("bass ", stand.bass), ("shells ", "heard" if stand.demonstrate else "silent")]
    whole = SILENT_WORDS, pattern, click_words(stand.click)
    brief = NO_SOUND, pattern.removesuffix(" to the bar"), click_words(stand.click, brief=True)
    # Where room is short, shorter words rather than a fact less.
    for silent, name, click in (whole, (*whole[:2], brief[2]), (whole[0], *brief[1:]), brief):
        row = _facts([("", silent if is_silent else ""), ("", name), ("click ", click), *set_up])
        if length(row) <= width:
            break
    output = "" if is_silent else _SOUND_WORDS.get(view.sound, view.sound)
    for fact in (("", output), ("count-in ", plural(stand.bars_counted(view.tempo_bpm), "bar"))):
        more = _facts([fact], gap=", ")
        row += more if length(row) + length(more) <= width else []
    return cut(row, width)


def count_in_words(view: View) -> str:
    """How it will be counted in, when that was changed."""
    counted = view.stand.bars_counted(view.tempo_bpm)
    bars = plural(counted, "bar") if counted else "none"
    why = ", as two seconds need at this tempo" if view.stand.count_in_bars is None else ""
    return f"Count-in: {bars}{why}, from the next start."


def _facts(facts: list[tuple[str, str]], gap: str = " ") -> Row:
    """Facts one behind the other, each a label and a value; one without a value is left out. gap: before the first."""
    row: Row = []
    for label, value in facts:
        if value:
            row += [
                ((gap if not row else ", ") + label, "dim"),
                (value, "notice" if value in (SILENT_WORDS, NO_SOUND) else "plain"),
            ]
    return row
