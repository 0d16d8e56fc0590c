"""The keyboards: which are listened to, where it sounds, and tapping with the click to measure what they are late by."""

from __future__ import annotations

import time

from textual.app import ComposeResult
from textual.content import Content
from textual.timer import Timer
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from companion.groove.model import Arrangement, Click, GrooveBar, GrooveChord
from companion.practice.leading import PAGE_SWITCHES
from companion.practice.marking.latency import measure_latency
from companion.session.leading import lead_in
from companion.sound.messages import BeatReport, Finished, Keyboards, NoteIn, Outputs, Ready
from companion.theory.meter import Meter
from companion.tui.draw.words import heard_words, no_keyboard_words
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.lead_learning import LeadLearning
from companion.tui.screens.soundfont_choice import ask_soundfont, instrument_words
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.option_list import ChangingList

TAP_BPM, TAP_BARS = 80.0, 6  # 24 clicks; half a beat is 375 ms, more than any latency to be met
# Where it may sound but on a MIDI port: mode in the settings, words.
_WHERE = (
    ("auto", "by itself: this computer's sound, else a MIDI port"),
    ("builtin", "this computer's sound"),
    ("silent", "nowhere, only the beat to watch"),
)
_HINT = (
    "Tap one key of your keyboard with each click, lightly. The first four clicks are for finding the beat. "
    "Without a keyboard, tap space: that measures the computer's keyboard, not a piano, and is only shown."
)


def tap_arrangement() -> Arrangement:
    """Nothing but the click."""
    meter = Meter.parse("4/4")
    rest = GrooveChord(0, meter.bar_ticks, None)
    bars = tuple(GrooveBar(index, meter, (rest,)) for index in range(TAP_BARS))
    return Arrangement(bars, click=Click("every"), bass="off", count_in_bars=0)


class KeyboardsScreen(AppScreen):
    """Which keyboards are heard, where it sounds, and the measuring of the latency."""

    place = "keyboards"
    BINDINGS = bindings("keyboards")

    def __init__(self) -> None:
        super().__init__()
        self.tapping = False
        self.words = ""
        self._clicks: list[float] = []
        self._midi_taps: list[float] = []
        self._space_taps: list[float] = []
        self._timer: Timer | None = None
        self._leads = LeadLearning(self)

    def compose(self) -> ComposeResult:
        """The two lists in one, and a line of words."""
        yield Static("Which keyboards are heard, and where does it sound?", id="keyboards-title", markup=False)
        names = ChangingList(id="keyboards-list")
        names.can_focus = False
        yield names
        yield Static("", id="keyboards-tap", markup=False)
        yield Static("", id="notice", markup=False)
        yield Foot(self.keymap, "keyboards", id="foot")

    def on_mount(self) -> None:
        """Fill the list."""
        self.show()

    @property
    def _list(self) -> OptionList:
        return self.query_one("#keyboards-list", OptionList)

    @property
    def names(self) -> tuple[str, ...]:
        """The keyboards that are plugged in."""
        return self.companion.keyboards.present

    def show(self) -> None:
        """Draw the lists afresh; the marked row stays."""
        if self.is_left:
            return
        heard = self.companion.keyboards.heard
        marked = self._list.highlighted
        self._list.clear_options()
        rows: list[Option | None] = [Option(Content(heard_words(name, heard))) for name in self.names]
        if rows:
            rows.append(None)  # a line between what is heard and where it sounds
        chosen = self._chosen
        rows += [
            Option(Content(f"{'✓ sounds   ' if place == chosen else '·          '} {words}"))
            for place, words in self._places()
        ]
        rows += [None, Option(Content(f"♪ plays    {instrument_words(self.companion.settings.sound.soundfont)}"))]
        self._list.add_options(rows)
        self._list.highlighted = min(marked or 0, self._list.option_count - 1)
        self.query_one("#keyboards-tap", Static).update("\n\n".join(filter(None, self._lines())))

    @property
    def _chosen(self) -> tuple[str, str]:
        """Where it is to sound: mode and MIDI port in the settings. A port asked for by a part of its name counts as that port."""
        sound = self.companion.settings.sound
        if sound.mode not in ("auto", "midi") or not sound.midi_out:
            return sound.mode, ""
        like = [name for name in self.companion.outputs.present if sound.midi_out.lower() in name.lower()]
        return "midi", like[0] if like else sound.midi_out

    def _places(self) -> list[tuple[tuple[str, str], str]]:
        """Where it may sound, and the words for it. A port that was chosen shows too while it is away."""
        ports = [(("midi", name), name) for name in self.companion.outputs.present]
        chosen = self._chosen
        if chosen[0] == "midi" and chosen not in [place for place, _ in ports]:
            ports.append((chosen, f"{chosen[1]}, which is not there now" if chosen[1] else "the first MIDI port"))
        (auto, builtin, silent) = [((mode, ""), words) for mode, words in _WHERE]
        return [auto, builtin, *ports, silent]

    def _lines(self) -> tuple[str, ...]:
        none = "" if self.names else no_keyboard_words(self.companion.keyboards.fault)
        sounds = self.companion.sound_words
        latency = f"Taken off every key you press: {self.companion.settings.practice.latency_ms:g} ms."
        if self.tapping:
            taps = len(self._midi_taps) or len(self._space_taps)
            return none, f"▶ Tap with the click: {taps} taps, click {len(self._clicks)} of {4 * TAP_BARS}.", _HINT
        if self._leads.learning:
            return none, self._leads.asked, self.words
        return none, sounds, latency, self._leads.learned, self.words or f"t measures it. {_HINT}"

    def hear(self, report: object) -> None:
        """A report of the sound process, the moment it comes."""
        if isinstance(report, Keyboards | Outputs | Ready):
            self.call_after_refresh(self.show)
        if self._leads.learning and (words := self._leads.hear(report)):
            self.words = words
            self.show()
        if not self.tapping or lead_in(report, self.companion.settings.leading) is not None:
            return
        if isinstance(report, BeatReport):
            self._clicks.append(report.due_s)
        elif isinstance(report, NoteIn) and report.velocity > 0:
            self._midi_taps.append(report.time_s)
        elif isinstance(report, Finished) and self._clicks:
            self._measured()
        self.show()

    def action_tap_start(self) -> None:
        """Begin to measure the latency, or end it with nothing measured."""
        if self.tapping:
            self._stop()
            self.words = "Stopped; nothing was measured."
        else:
            self._clicks, self._midi_taps, self._space_taps = [], [], []
            self.tapping, self.words = True, ""
            self.companion.playback.play_apart(tap_arrangement(), TAP_BPM)
        self.show()

    def action_tap(self) -> None:
        """A tap on the space bar, for a student without a keyboard."""
        if self.tapping:
            self._space_taps.append(time.perf_counter())
            self.show()

    def _stop(self) -> None:
        if self.tapping:
            self.tapping = False
            self.companion.playback.silence()

    def _measured(self) -> None:
        self.tapping = False
        latency = measure_latency(self._midi_taps or self._space_taps, self._clicks)
        self.words = latency.words
        if latency.refused or latency.offset_ms is None:
            return
        if not self._midi_taps:
            self.words += " That was the computer's keyboard, not a piano: it is not kept."
            return
        self.companion.keep_latency(float(round(latency.offset_ms)))
        self.words += " It is kept and taken off from now on."

    def action_up(self) -> None:
        """Mark the row above."""
        self._list.action_cursor_up()

    def action_down(self) -> None:
        """Mark the row below."""
        self._list.action_cursor_down()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A click of the mouse."""
        self.action_listen()

    def action_listen(self) -> None:
        """Hear the marked keyboard too, or no longer; the last one left stays. Or sound on the marked output from now on."""
        index = self._list.highlighted
        if index is None:
            return
        places = self._places()
        if index >= len(self.names) + len(places):
            ask_soundfont(self.companion, self._said)
            return
        if index >= len(self.names):
            (mode, port), _ = places[index - len(self.names)]
            self.companion.play_on(mode, port)
            self.show()
            return
        heard, name = self.companion.keyboards.heard, self.names[index]
        wanted = tuple(each for each in heard if each != name) if name in heard else (*heard, name)
        if not wanted:
            self.words = "One keyboard at least is heard; choose another first."
            self.show()
            return
        self.companion.listen_to(wanted)

    def _said(self, words: str) -> None:
        self.words = words
        self.show()

    def action_listen_to_all(self) -> None:
        """Hear every keyboard."""
        self.companion.listen_to(())

    def action_set_up_microphone(self) -> None:
        """Set a microphone up, for an acoustic piano."""
        self._stop()
        self.companion.open("microphone")

    def action_lead(self) -> None:
        """Choose what to lead from the piano; the next key or pedal does it from then on."""
        self._stop()
        self._leads.choose(self.show)

    def action_turned(self, page: str) -> None:
        """A page turner, to be learned: "down" or "up"."""
        if self._leads.learning:
            self.words = self._leads.take(PAGE_SWITCHES[page])
            self.show()

    def action_forget_lead(self) -> None:
        """What is being learned is led by nothing any more."""
        if self._leads.learning:
            self.words = self._leads.forget()
            self.show()

    def action_leave(self) -> None:
        """End what is measured or learned; else go back."""
        if self._leads.learning:
            self._leads.learning, self.words = "", "Nothing was learned."
            self.show()
            return
        self._stop()
        self.leave()
