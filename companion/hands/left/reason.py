"""Why this shell: one sentence that a student understands and that is true of the case."""

from __future__ import annotations

from dataclasses import dataclass

from companion.hands.hand import Hand
from companion.hands.left.model import Shell, Slot
from companion.hands.left.movement import distance
from companion.hands.left.ties import alternates, top_of

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True, slots=True)
class Case:
    """What the reason may draw on.

    before: the shell that the hand leaves, None for the only chord of a chorus. opens: whether this chord is the
    first, so that `before` is the last of the chorus. rests: whether the hand has just rested (N.C.). options and
    extra: every legal shell and what it would add to the chorus in semitones. last_time: what this chord of the section
    had before in this chorus, None the first time. phrase: what this chord had when it last followed the same chord
    and shell, None where it did not.
    """

    slot: Slot
    shell: Shell
    before: Shell | None
    opens: bool
    rests: bool
    options: tuple[Shell, ...]
    extra: tuple[int, ...]
    last_time: Shell | None
    phrase: Shell | None


def why(case: Case, hand: Hand) -> str:
    """One sentence, without a full stop: what is on top, how the hand gets there, and why not another shell."""
    clauses = [clause for clause in (_motion(case), _grounds(case, hand)) if clause]
    head = _head(case)
    if clauses and clauses[0] == "both notes stay" and case.slot.pin is None:
        return "; ".join(clauses)
    return f"{head}: {'; '.join(clauses)}" if clauses else head


def on_top(shell: Shell) -> str:
    """The upper note in words: "the seventh on top"."""
    below, above = shell.kind.split("-")
    if above == "octave":
        return f"the {below} doubled an octave above"
    tenth = ", a tenth up" if shell.interval > 12 else ""
    return f"the {above} {'over the bass note' if below == 'bass' else 'on top'}{tenth}"


def semitones(count: int) -> str:
    """A number of semitones in words: "one semitone", "five semitones"."""
    number = _NUMBERS[count] if count < len(_NUMBERS) else str(count)
    return f"{number} semitone{'' if count == 1 else 's'}"


def _head(case: Case) -> str:
    head = on_top(case.shell)
    if case.slot.pin is not None:
        return f"your own choice (pinned), {head}"
    if case.slot.chord is not None and case.slot.chord.family == "sixth" and case.shell.kind == "root-fifth":
        return f"{head}, for a sixth chord rests on it"
    return head


def _motion(case: Case) -> str:
    """How the hand arrives from the shell before."""
    if case.before is None:
        return ""
    if case.before.midi == case.shell.midi:
        if case.opens:
            return "the chorus ends on the same two notes"
        return "both notes stay across the rest" if case.rests else "both notes stay"
    step = case.shell.midi[1] - case.before.midi[1]
    if step == 0:
        if case.opens:
            return "the chorus ends on the same upper note"
        return "the upper note stays across the rest" if case.rests else "the upper note stays"
    left = "you leave"
    if case.opens:
        left = "the chorus ends on"
    elif case.rests:
        left = "before the rest"
    size = "a whole tone" if abs(step) == 2 else semitones(abs(step))
    return f"{size} {'above' if step > 0 else 'below'} the note {left}"


def _grounds(case: Case, hand: Hand) -> str:
    """Why this one and not another, where the motion alone does not say it."""
    others = [(extra, shell) for extra, shell in zip(case.extra, case.options, strict=True) if shell != case.shell]
    if not others:
        return "no other shell is legal here"
    extra, rival = min(others, key=lambda other: other[0])
    if case.slot.pin is not None:
        return f"{_named(rival, case.shell)} would save {semitones(-extra)} in the chorus" if extra < 0 else ""
    if extra > 0:
        nearer = case.before is not None and any(
            distance(case.before, shell) < distance(case.before, case.shell) for _, shell in others
        )
        return "a nearer one here would cost more further on" if nearer else ""
    rival_named = _named(rival, case.shell)
    if case.last_time == case.shell:
        return f"{rival_named} would move the hand as little, but this is what you played last time"
    if case.phrase == case.shell:
        return f"{rival_named} would move the hand as little, but you played the same two chords so before"
    if case.before is not None and alternates(case.before, case.shell) and not alternates(case.before, rival):
        turns = " and ".join(sorted((top_of(case.before), top_of(case.shell)), reverse=True))
        return f"{rival_named} would move the hand as little, but {turns} take turns"
    if hand.off_middle(*case.shell.midi) < hand.off_middle(*rival.midi):
        return f"{rival_named} would move the hand as little, but this lies nearer the middle of your range"
    return f"{rival_named} would move the hand as little"


def _named(rival: Shell, shell: Shell) -> str:
    if rival.kind != shell.kind or (rival.interval > 12) != (shell.interval > 12):
        return on_top(rival)
    return f"the same shell {'lower' if rival.midi < shell.midi else 'higher'}"
