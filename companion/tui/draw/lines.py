"""The stand's single lines: title, beat, state. Each is a row of (text, role) pairs, cut to the width."""

from __future__ import annotations

from companion.base.text import plural
from companion.groove.names import PATTERN_NAMES
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.stand import Stand
from companion.tui.draw.keyboard import Row
from companion.tui.draw.view import View
from companion.tui.draw.words import click_words, notice_role, shorten, signs, tempo_words

SILENT_WORDS, NO_SOUND = "plays silently", "no sound"
_SOUND_WORDS = {"builtin": "built-in sound", "midi": "over MIDI", "silent": SILENT_WORDS, "": "sound is starting"}


def cut(row: Row, width: int) -> Row:
    """The row in at most `width` columns."""
    result: Row = []
    for text, role in row:
        text = text[: max(0, width)]
        width -= len(text)
        if text:
            result.append((text, role))
    return result


def sides(left: Row, right: Row, width: int) -> Row:
    """One row with something at each end; the right end gives way where there is no room."""
    gap = width - sum(len(text) for text, _ in left) - sum(len(text) for text, _ in right)
    if gap < 1:
        return cut(left, width)
    return [*left, (" " * gap, "plain"), *right]


def title_line(view: View, width: int) -> Row:
    """Title, key, meter, feel and tempo, in one line."""
    song = view.stand.song
    tempo = tempo_words(view.tempo_bpm if view.tempo_bpm == song.tempo_bpm else round(view.tempo_bpm))
    if view.tempo_bpm != song.tempo_bpm:
        tempo += f" (target {tempo_words(song.tempo_bpm)})"
    key = "" if view.hides else f"{signs(song.key.name)}   "  # the name of a key is that of its first chord, often
    facts = f"{key}{song.meter.name}   {song.feel}   tempo "
    right: Row = [(facts, "dim"), (tempo + " ", "strong")]
    if len(song.title) + 48 > width:
        right = [("tempo ", "dim"), (tempo + " ", "strong")]
    return sides([(f" {song.title}", "strong")], right, width)


def beat_line(view: View, width: int) -> Row:
    """Sounding or not, where in the form, and the beats of the bar with the sounding one in brackets."""
    if view.is_dark:
        return sides([], _beats(view), width)
    stand = view.stand
    bar = stand.bars[view.here]
    where = f"bar {view.here + 1} of {len(stand.bars)}   {bar.section} {bar.bar}"
    if view.waiting is not None:
        left: Row = [(" ◇ waits for you", "strong"), (f"   {where}", "plain")]
    elif view.counting_in:
        left = [(" ▶ count-in", "strong")]
    elif view.playing and view.beat is None:
        left = [(" ▶ starting", "strong")]
    elif view.beat is not None and view.sounding:
        what = "chorus" if len(stand.loop) == len(stand.bars) else "pass"
        left = [(f" ▶ {what} {view.beat.turn + 1}", "strong"), (f"   {where}", "plain")]
    else:
        left = [(" ■ stopped", "strong"), (f"   {where}", "plain")]
    beats = _beats(view)
    if view.hands != "left":
        left.append((f"   {HAND_WORDS[view.hands]}", "strong"))
    loop: Row = [("   loop ", "dim"), (loop_words(view.stand), "plain")]
    if view.next_stand is not None:
        loop = [("   next key: ", "dim"), (signs(view.next_stand.key.name), "strong")]
    if sum(len(text) for text, _ in [*left, *loop, *beats]) < width:
        left += loop
    return sides(left, beats, width) if width >= 40 else cut([*beats, *left], width)


def loop_words(stand: Stand) -> str:
    """ "whole form", "A, 8 bars", "bars 3 to 6"."""
    if len(stand.loop) == len(stand.bars) or stand.loop_name.startswith("bar"):
        return stand.loop_name
    return f"{stand.loop_name}, {plural(len(stand.loop), 'bar')}"


def _beats(view: View) -> Row:
    if not view.playing or view.beat is None:
        pulses, sounding = view.stand.bars[view.here].meter.pulses, -1
    else:
        pulses, sounding = view.beat.pulses, view.beat.pulse
    row: Row = []
    for pulse in range(pulses):
        row.append((f"[{pulse + 1}]", "beat") if pulse == sounding else (f" {pulse + 1} ", "dim"))
    return [*row, (" ", "plain")]


def state_line(view: View, width: int) -> Row:
    """What is set, or what there is to say: of the keys that were struck, or for a while of anything."""
    if view.answer:
        return [(shorten(f" {signs(view.answer)}", width), "strong")]
    if view.notice:
        return [(shorten(f" {view.notice}", width), notice_role(view.notice))]
    stand = view.stand
    pattern = PATTERN_NAMES.get(stand.pattern, stand.pattern).split(" (")[0]
    is_silent = view.sound == "silent"
    set_up = [("bass ", stand.bass), ("shells ", "heard" if stand.demonstrate else "silent")]
    whole = SILENT_WORDS, pattern, click_words(stand.click)
    brief = NO_SOUND, pattern.removesuffix(" to the bar"), click_words(stand.click, brief=True)
    # Where room is short, shorter words rather than a fact less.
    for silent, name, click in (whole, (*whole[:2], brief[2]), (whole[0], *brief[1:]), brief):
        row = _facts([("", silent if is_silent else ""), ("", name), ("click ", click), *set_up])
        if _length(row) <= width:
            break
    output = "" if is_silent else _SOUND_WORDS.get(view.sound, view.sound)
    for fact in (("", output), ("count-in ", plural(stand.count_in_bars, "bar"))):
        more = _facts([fact], gap="  ")
        row += more if _length(row) + _length(more) <= width else []
    return cut(row, width)


def _facts(facts: list[tuple[str, str]], gap: str = " ") -> Row:
    """Facts one behind the other, each a label and a value; one without a value is left out. gap: before the first."""
    row: Row = []
    for label, value in facts:
        if value:
            row += [
                ((gap if not row else "  ") + label, "dim"),
                (value, "notice" if value in (SILENT_WORDS, NO_SOUND) else "plain"),
            ]
    return row


def _length(row: Row) -> int:
    return sum(len(text) for text, _ in row)
