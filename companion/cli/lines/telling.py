"""What is told while one plays without the app: whole sentences, a line each, or one JSON object a line.

Nothing of a chord is told that the drill hides: what may be said of it comes from `fading.cue_text`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TextIO

from companion.base.text import plural
from companion.chart.model import NO_CHORD
from companion.practice.drills.fading import cue_text
from companion.practice.model import VERDICTS
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.changes import (
    AllKeysPlayed,
    Began,
    Change,
    DrillLeft,
    Ended,
    NeedsKeyboard,
    NextKey,
    PassOver,
    PassWaits,
    Said,
    Sounded,
    State,
)
from companion.session.chords.in_song import chords_of
from companion.session.conductor import Conductor
from companion.session.drill import KINDS, Drill
from companion.session.keys import key_said
from companion.session.minutes import RestDue
from companion.session.outcome import PassResult
from companion.session.practice import HEARD_THROUGH, NOW_YOU
from companion.session.stand import Stand, shell_words
from companion.session.stand_changes import FAST_BPM, two_is_enough
from companion.session.waiting import waiting_words
from companion.theory.spoken import spoken_forms, tone_words
from companion.tui.cautions import CAUTIONS, CAUTIONS_TITLE
from companion.tui.draw.drill import bar_names, drill_sentence, finished_lines
from companion.tui.draw.view import View

HIDDEN_QUALITY = "..."  # behind a root whose quality is hidden: "C..." is no C major
NAMES = ("symbols", "spoken")
TELLS = ("bars", "ahead", "passes")
REST = f"You have played for 25 minutes. {CAUTIONS[1]} {CAUTIONS[0]} {CAUTIONS[4]}"
QUESTION = (
    'How did that pass go? An empty line: it ran. Or "slipped" and the bars, such as "slipped 3 5-6"; or "broke off".'
)
HOW_TO_TELL = 'An empty line: it ran, but for bars that you told: "x" while they sound, or "slipped" and the bars.'
NEEDS_KEYBOARD = (
    "Free time waits until the right keys are down, so it needs a keyboard that is heard, and none is there."
)
_AFTER_HEARING = f"{HEARD_THROUGH} Now you play: an empty line starts it."
STOPPED, CUT_OFF = "Stopped.", "Cut off: this pass does not count."


class Teller:
    """out: where it is told; aside: where what is said beside the music is, `out` too where it is JSON. as_json: one object a line. names: of chords, one of NAMES. tells: each bar as it begins, or a bar ahead, or
    only what comes between passes, one of TELLS."""

    two_by = '"pattern two"'  # what plays two to the bar

    def __init__(
        self,
        out: TextIO,
        aside: TextIO | None = None,
        *,
        as_json: bool = False,
        names: str = NAMES[0],
        tells: str = TELLS[0],
    ) -> None:
        self.names, self.tells = names, tells
        self._rest_told = self._how_told = False
        self._out, self._aside, self._as_json = out, aside or out, as_json

    def tell(self, what: str, sentences: str | Sequence[str], **facts: Any) -> None:
        """what: names the kind of thing. sentences: each a line of its own. facts: for programs."""
        lines = [sentences] if isinstance(sentences, str) else [line for line in sentences if line]
        if self._as_json:
            row = {"told": what, "words": " ".join(lines), **facts}
            print(json.dumps(row, ensure_ascii=False), file=self._out, flush=True)
        else:
            for line in lines:
                print(line, file=self._aside if what in ("said", "fault") else self._out, flush=True)

    def changes(self, changes: Sequence[Change], state: State, kind: str) -> None:
        """What calls to the conductor came to. state: how things stand after it; kind: how one practises."""
        untold = {waiting_words(change.count) for change in changes if isinstance(change, PassWaits)}
        # How a pass went is told before what comes next begins.
        for change in sorted(changes, key=lambda change: isinstance(change, Began)):
            match change:
                case Began(index):
                    self._began(state, index, kind)
                case Sounded(beat) if beat.pulse == 0 and beat.turn >= 0:
                    self._bar(state, beat.index, beat.turn + 1)
                case Sounded(beat) if beat.pulse == 0 and beat.frame and beat.position == 0:
                    self.tell("said", f"The {beat.frame}.")
                case NextKey(stand) if state.beat is not None:
                    self.tell("key", f"Next key: {key_said(stand.key)}.", key=stand.key.name)
                case AllKeysPlayed(key):
                    self.tell("key", f"All twelve keys were played: back in {key_said(key)}.", key=key.name)
                case PassOver(result, drill):
                    self._pass(result, drill, state.stand)
                case PassWaits(count):
                    self.tell("untold", self._untold(count), count=count)
                case Ended(last, broken, asks):
                    self._ended(last, broken, asks is not None)
                case DrillLeft(left):
                    self.tell("said", f"Another loop, so {KINDS[left]} is over; it can be taken up again here.")
                case RestDue(now):
                    self._rest(now)
                case NeedsKeyboard():
                    self.tell("fault", NEEDS_KEYBOARD)
                case Said(sentence) if sentence not in untold:
                    self.tell("said", _AFTER_HEARING if sentence == NOW_YOU else sentence)

    def cautions(self) -> None:
        """The usual ones."""
        self.tell("said", [f"{CAUTIONS_TITLE}:", *CAUTIONS])

    # --- the song

    def song(self, stand: Stand, kind: str) -> None:
        """What is on the stand."""
        whose = HAND_WORDS[stand.hands]
        self.tell(
            "song",
            f"{stand.song.title}, in {key_said(stand.key)}, {stand.song.meter}, tempo {stand.tempo_bpm:g}, {stand.loop_name}, {whose}, "
            f"{KINDS[kind]}.",
            id=stand.original.id,
            title=stand.song.title,
            key=stand.key.name,
            meter=str(stand.song.meter),
            tempo=round(stand.tempo_bpm, 1),
            loop=stand.loop_name,
            hands=stand.hands,
            way=kind,
        )

    def way(self, conductor: Conductor) -> None:
        """What is on the stand, how it is practised and where the drill stands."""
        stand, drill = conductor.stand, conductor.state.drill
        self.song(stand, conductor.kind)
        if drill is not None:
            self.tell("drill", drill_sentence(drill), way=drill.kind, finished=drill.finished)
        if not conductor.playing:
            self.tell("said", "An empty line starts it.")

    def looked(self, state: State, index: int) -> None:
        """A bar as a look at it shows it."""
        view = replace(View(state.stand).after(state), peeked=index)
        self.tell("look", f"{self._bar_words(view, index)} It counts as a slip.", **self._bar_facts(view, index))

    def shells(self, stand: Stand, index: int, number: int) -> None:
        """Every shell that may be chosen for a chord, a line each, the present one first."""
        placed, choice = stand.choices_at(index)[number]
        shells = stand.shells_to_pin(index, number)
        self.tell("shells", f"{placed.symbol} in {self._place(stand, index)}: {shell_words(choice.shell)} now.")
        for shell, extra in shells:
            if choice.shell is None or shell != choice.shell:
                costs = "costs the same" if not extra else f"costs {abs(extra)} {'more' if extra > 0 else 'less'}"
                self.tell(
                    "shell",
                    f"{shell_words(shell)} {costs} in a chorus.",
                    shell=shell.kind,
                    notes=list(shell.names),
                    costs=extra,
                )

    def whole_chords(self, stand: Stand, hand: str) -> None:
        """The song's chords in root position, a line each."""
        for each in chords_of(stand, "right" if hand == "right" else "left", 0):
            close = each.close
            name = spoken_forms(close.chord)[0] if self.names == "spoken" else each.symbol
            self.tell(
                "chord",
                f"{name}: {' '.join(close.names)}, fingers {close.fingers}.",
                symbol=each.symbol,
                notes=list(close.names),
                fingers=close.fingers,
            )

    def chart(self, state: State) -> None:
        """The loop bar by bar, as far as the drill lets it be seen."""
        view = View(state.stand).after(state)
        for index in state.stand.loop:
            self.tell("chart", self._bar_words(view, index), **self._bar_facts(view, index))

    def waiting(self, state: State) -> None:
        """What free time waits for."""
        if state.waiting is not None:
            view, index = View(state.stand).after(state), state.waiting.index
            words = self._chord(view, index, state.waiting.chord)["words"]
            self.tell("waits", f"Waits for {words}, {self._place(state.stand, index)}.", **self._bar_facts(view, index))

    def _began(self, state: State, index: int, kind: str) -> None:
        if kind == "free":
            return  # what it waits for is told
        view = View(state.stand, cursor=index).after(state)
        tempo_bpm = view.tempo_bpm
        count = state.stand.bars_counted(tempo_bpm, index)
        head = f"{plural(count, 'bar')} counted in" if count else "It begins"
        self.tell(
            "begins",
            f"{head}, tempo {tempo_bpm:.4g}; first comes {self._bar_words(view, index)}",
            tempo=round(tempo_bpm, 1),
            **self._bar_facts(view, index),
        )
        if two_is_enough(view.stand, tempo_bpm):
            self.tell("said", f"Two chords a bar above {FAST_BPM:g}: {self.two_by} plays two to the bar.")

    def _bar(self, state: State, index: int, turn: int) -> None:
        if self.tells != "passes":
            view = View(state.stand).after(state)
            if self.tells == "ahead":
                index = view.stand.next_index(index)
            self.tell("bar", self._sounding(view, index, turn), **{"pass": turn}, **self._bar_facts(view, index))

    def _sounding(self, view: View, index: int, turn: int) -> str:
        """turn: which pass, from 1."""
        return self._bar_words(view, index)

    @staticmethod
    def _place(stand: Stand, index: int) -> str:
        bar = stand.bars[index]
        return f"{bar.section} {bar.bar}, bar {index + 1}"

    def _bar_words(self, view: View, index: int) -> str:
        chords = "; ".join(filter(None, (chord["words"] for chord in self._chords(view, index))))
        return f"{self._place(view.stand, index)}{': ' if chords else ''}{chords}."

    def _bar_facts(self, view: View, index: int) -> dict[str, Any]:
        bar = view.stand.bars[index]
        chords = [
            {name: value for name, value in chord.items() if name != "words"} for chord in self._chords(view, index)
        ]
        return {"section": bar.section, "bar": bar.bar, "number": index + 1, "chords": chords}

    def _chords(self, view: View, index: int) -> list[dict[str, Any]]:
        """A bar of which nothing is shown does not tell how many chords it has."""
        found = [self._chord(view, index, number) for number in range(len(view.stand.bars[index].chords))]
        return [chord for chord in found if chord["symbol"]]

    def _chord(self, view: View, index: int, number: int) -> dict[str, Any]:
        placed, choice = view.stand.choices_at(index)[number]
        chord, shell = placed.chord, choice.shell
        spoken = self.names == "spoken"
        root = chord.root if chord is not None else None
        texts = cue_text(
            view.cue(index),
            symbol=placed.symbol,
            root=f"{root.name}{HIDDEN_QUALITY}" if root is not None else NO_CHORD,
            notes=" ".join(shell.names) if shell else "",
            shell=shell.kind if shell else "rest",
        )
        symbol, notes, kind = (*texts, "", "", "")[:3]
        name, heard = symbol, notes
        if spoken and symbol:
            name = tone_words(root) if root is not None and symbol != placed.symbol else spoken_forms(chord)[0]
            heard = " ".join(tone_words(pitch.tone) for pitch in (shell.lower, shell.upper)) if shell and notes else ""
        words = ", ".join(filter(None, (name, f"{kind} {heard}".strip())))
        return {"symbol": symbol, "shell": kind, "notes": notes.split(), "words": words}

    # --- passes

    def _rest(self, now: bool) -> None:
        """While it plays it is offered after every pass, and told once."""
        if now or not self._rest_told:
            self.tell("rest", REST if now else f"{REST} This pass first.")
        self._rest_told = not now

    def _pass(self, result: PassResult, drill: Drill | None, stand: Stand) -> None:
        record = result.record
        hides = drill is not None and drill.hides_symbols
        says = result.advice.says_by_bars if hides else result.advice.says
        worst: dict[int, str] = {}
        for row in record.chords:
            worst[row["index"]] = max(worst.get(row["index"], "right"), row["verdict"], key=VERDICTS.index)
        verdicts = {index: worst.get(index, "") for index in record.slipped}
        behind = {index: f" {verdict}" if verdict not in ("", "right") else "" for index, verdict in verdicts.items()}
        slipped = f"Slipped: {bar_names(tuple(verdicts), stand, behind)}." if verdicts else ""
        plain = [line for line in result.lines if not line.startswith("  ") and not line.endswith(":")]
        costly = "; ".join(change.words for change in result.changes)
        lines = [*plain[:1], *says, slipped, *plain[1:]]
        if costly and not hides:
            lines.append(f"Costliest changes: {costly}.")
        stands = drill_sentence(drill) if drill is not None and drill.kind != "play" else ""
        if drill is not None and drill.finished:
            lines += finished_lines(drill)[:1]
        elif stands:
            lines.append(stands)
        self.tell(
            "pass",
            lines,
            heard=record.source == "heard",
            fact=record.fact,
            way=record.kind,
            loop=record.loop_name,
            tempo=round(record.tempo_bpm, 1),
            right=round(record.share_right, 4) if record.source == "heard" else None,
            clean=record.clean,
            slipped=[
                {
                    "section": stand.bars[index].section,
                    "bar": stand.bars[index].bar,
                    "number": index + 1,
                    "verdict": verdict,
                }
                for index, verdict in verdicts.items()
            ],
            says=list(says),
            drill=stands,
            finished=drill is not None and drill.finished,
        )

    def _untold(self, count: int) -> list[str]:
        """How it is told of stands there once."""
        lines = [waiting_words(count), "" if self._how_told else HOW_TO_TELL]
        self._how_told = True
        return lines

    def _ended(self, last: PassOver | None, broken: bool, asks: bool) -> None:
        if broken:
            self.tell("stopped", CUT_OFF)
        elif asks:
            self.tell("asks", QUESTION)
        else:
            self.tell("stopped", STOPPED)
