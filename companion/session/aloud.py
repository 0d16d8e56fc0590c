"""What a pass came to, said aloud once it is over, for who looks at no screen: its share, the bars that slipped, what comes next.

No chord is named, so that a drill that hides them gives nothing away. What is begun meanwhile is not talked over: the count-in ends it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from companion.base.text import plural
from companion.session.called import Caller, cannot_speak
from companion.session.changes import Change, Ended, PassOver, Said, State
from companion.session.drill import KINDS
from companion.session.outcome import TOLD_WORDS
from companion.session.stand import Stand

ON, OFF = "What a pass came to is said aloud after it.", "Nothing is said aloud after a pass."
MOST_BARS = 4  # that are named; more of them nobody keeps in mind


class Aloud:
    """caller: has words spoken. wanted: whether the student wants it now."""

    def __init__(self, caller: Caller, wanted: Callable[[], bool]) -> None:
        self._caller, self._wanted = caller, wanted

    def tell(self, changes: Sequence[Change], state: State) -> None:
        """What a call to the conductor came to. While changes are called over the music nothing else is said."""
        if not self._wanted() or (state.playing and state.stand.calls != "off"):
            return
        words = [each for change in changes if (each := words_of(change, state))]
        if words:
            self._caller.say(" ".join(dict.fromkeys(words)))

    def tried(self, output: str) -> str:
        """It was set to another way: what there is to say of that, which is said aloud too. output: that sounds, "" before that is known."""
        if not self._wanted():
            self._caller.hush()
            return OFF
        if fault := cannot_speak(output, "What happened is said"):
            return fault
        self._caller.want(())  # what failed before is tried once more
        self._caller.say(ON)
        return ON


def words_of(change: Change, state: State) -> str:
    """What is said of it, "" for nothing. Other sentences than of passes are said while nothing sounds."""
    match change:
        case PassOver():
            return pass_words(change, state.stand)
        case Ended(asks=int()):
            return f"{plural(state.waits, 'pass waits', 'passes wait')} for your word."
        case Said(sentence) if not state.playing:
            return sentence
    return ""


def pass_words(over: PassOver, stand: Stand) -> str:
    """ "88 per cent right. Slipped: A 3. Next at 96." """
    record, drill = over.result.record, over.drill
    said = [TOLD_WORDS.get(record.fact, "")]
    if record.source == "heard":
        said = [f"{100 * record.share_right:.0f} per cent right."]
    if len(record.slipped) > MOST_BARS:
        said.append(f"{len(record.slipped)} bars slipped.")
    elif record.slipped:
        bars = (stand.bars[index] for index in record.slipped)
        said.append(f"Slipped: {', '.join(f'{bar.section} {bar.bar}' for bar in bars)}.")
    if drill is not None and drill.finished:
        said.append(f"Done: {KINDS[drill.kind]}.")
    elif drill is not None and round(drill.next_pass.tempo_bpm) != round(record.tempo_bpm):
        said.append(f"Next at {drill.next_pass.tempo_bpm:.0f}.")
    return " ".join(filter(None, said))
