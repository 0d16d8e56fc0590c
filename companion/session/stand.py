"""The song on the stand with everything that is set for it: key, tempo, loop, shells, groove. Immutable: a change gives
a new Stand. Bars are named by their index in the chorus, from 0."""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from typing import Any
from zlib import crc32

from companion.arranging.choice import ALONE, ArrangementChoice
from companion.arranging.passing import with_passing_chords
from companion.chart.loops import WHOLE_FORM
from companion.chart.melody import MelodyNote, chorus_melody
from companion.chart.model import FormBar, PlacedChord, Song
from companion.chart.transpose import transpose
from companion.errors import HandsError, ShellError
from companion.groove.counting import whole_bars
from companion.groove.model import BAND, CALLS, HAND_PARTS, Arrangement, Click, hand_parts
from companion.groove.swung_choice import SwungChoice
from companion.groove.swung_song import played_melody
from companion.hands.hand import Hand, may_rest
from companion.hands.left.model import Choice, Part, Shell
from companion.hands.left.options import pin_of, pinnable
from companion.practice.slots import ChordPlace, Pins, slots_of, without_unfit
from companion.session.harmonised import HarmonisedNote, harmonised
from companion.session.ornaments import Ornaments, Then, TuneOnStand, ornaments_of
from companion.session.room import Room, make_room, room_beside
from companion.session.stand_groove import first_choices, groove_of
from companion.store.own_melody import SHELLS, Fingers
from companion.store.settings import Settings
from companion.theory.key import Key
from companion.theory.pitch import Pitch
from companion.theory.shell_kinds import Pin

_NO_FINGERS: Fingers = {}
TEMPO_LIMITS = (20.0, 400.0)  # pulses a minute


@dataclass(frozen=True, slots=True)
class Stand:
    """original: the song in its own key; song: in the key on the stand. own_pins: the student's; they win over the song
    file's. loop: the bars being practised in playing order; loop_name: its words. part: the shells of one chorus.
    first_choice: for each bar of the chorus, the position in `part` of its first chord. written: the melody of one chorus, straight and
    as high as it is written; melody: as it is played. room_by: how the student wants both hands to have room, one of own_melody.ROOMS, None where
    nothing was said; left_learned: pitch classes of the keys that the left hand has learned the song in; room: how it came out. own_fingers:
    the student's, of written notes. arranged: what goes with the melody. swung: the version of the melody that is played; laid_back: whether it is heard behind the beat, see
    `lies_back`. dropped_pins: those that do not fit in the key on the stand. melody_sounds: whether it does while one plays. calls: when the changes are called, one of groove.calls.CALLS_WHEN. hands: that the student plays
    with, one of chart.lesson.HANDS; rest_sounds: the companion plays what is left to the other hand. For the rest see Arrangement."""

    original: Song
    song: Song
    hand: Hand
    own_pins: Pins
    bars: tuple[FormBar, ...]
    part: Part
    first_choice: tuple[int, ...]
    written: tuple[MelodyNote, ...]
    melody: tuple[MelodyNote, ...]
    loop: tuple[int, ...]
    loop_name: str
    tempo_bpm: float
    pattern: str
    click: Click
    bass: str
    demonstrate: bool
    count_in_bars: int | None
    swing_ratio: float | None
    seed: int
    melody_sounds: bool = False
    hands: str = "left"
    rest_sounds: bool = False
    room_by: str | None = None
    left_learned: frozenset[int] = frozenset()
    room: Room | None = None
    own_fingers: Fingers = field(default_factory=dict)
    swung: SwungChoice = field(default_factory=SwungChoice)
    arranged: ArrangementChoice = field(default_factory=ArrangementChoice)
    laid_back: bool = False
    calls: str = "off"
    dropped_pins: tuple[ChordPlace, ...] = ()

    @classmethod
    def put(
        cls,
        song: Song,
        settings: Settings,
        own_pins: Pins | None = None,
        rest_on_fifth: str | None = None,
        *,
        room_by: str | None = None,
        left_learned: frozenset[int] = frozenset(),
        own_fingers: Fingers | None = None,
        swung: SwungChoice | None = None,
        arranged: ArrangementChoice | None = None,
    ) -> Stand:
        """Put a song on the stand. rest_on_fifth: of this song, None for as the settings say. room_by to swung: see above. A pin of the
        student's that no longer fits the hand or the song is kept, but not obeyed: `dropped_pins` says which.

        Raises ShellError where the hand allows no shell for a chord or a pin of the song file cannot be kept.
        """
        playing = settings.playing
        own_pins = own_pins or {}
        bars = song.unroll()
        stand = cls(
            original=song,
            song=song,
            hand=settings.hand if rest_on_fifth is None else replace(settings.hand, rest_on_fifth=rest_on_fifth),
            own_pins={},
            bars=bars,
            part=Part((), 0),
            first_choice=first_choices(bars),
            written=chorus_melody(song),
            melody=(),
            loop=tuple(range(len(bars))),
            loop_name=WHOLE_FORM,
            tempo_bpm=song.tempo_bpm,
            pattern=playing.pattern,
            click=playing.click,
            bass=playing.bass,
            demonstrate=playing.demonstrate,
            count_in_bars=playing.count_in_bars,
            swing_ratio=playing.swing_ratio,
            seed=playing.seed,
            room_by=room_by,
            left_learned=left_learned,
            own_fingers=own_fingers or {},
            swung=swung or SwungChoice(),
            arranged=arranged or ArrangementChoice(),
            laid_back=playing.laid_back,
            calls=playing.calls,
        )
        return stand._worked_out(own_pins, kept=song.pins.keys() - own_pins.keys())

    def _worked_out(self, own_pins: Pins, kept: Collection[ChordPlace] = ()) -> Stand:
        """With the shells and the melody for what else is set. kept: pins that must be kept, else ShellError; others that do not fit wait."""
        bars = with_passing_chords(self.song.unroll(), self.written, self.arranged, self.loop)
        slots, dropped = without_unfit(slots_of(self.song, bars, own_pins), self.hand, kept)
        played = self.written if self.swung.is_straight else played_melody(self.song, self.swung)
        room = make_room(slots, self.hand, bars, self.written, played, may_move=self._may_move)
        return replace(
            self,
            own_pins=dict(own_pins),
            bars=bars,
            first_choice=first_choices(bars),
            dropped_pins=dropped,
        )._in(room)

    def _in(self, room: Room) -> Stand:
        return replace(self, part=room.part, melody=room.melody, room=room)

    def beside(self, song: Song, arranged: ArrangementChoice) -> Stand:
        """Another song of its own, an introduction say, for the same hands and played in the same way. arranged: asks for no chords that lead on."""
        bars, written, room = room_beside(song, self.hand, self._may_move)
        return replace(
            self,
            original=song,
            song=song,
            own_pins={},
            bars=bars,
            first_choice=first_choices(bars),
            written=written,
            loop=tuple(range(len(bars))),
            loop_name=WHOLE_FORM,
            own_fingers=_NO_FINGERS,
            swung=SwungChoice(),
            arranged=arranged,
            dropped_pins=(),
        )._in(room)

    @property
    def _may_move(self) -> bool:
        """Whether another shell is taken before the melody goes up."""
        return self.room_by == SHELLS or (self.room_by is None and self.key.tonic.pc not in self.left_learned)

    @property
    def key(self) -> Key:
        """The key that the song is in now."""
        return self.song.key

    def change(self, **fields: Any) -> Stand:
        """The same with other values for pattern, click, bass, demonstrate, count_in_bars, swing_ratio, laid_back, calls, seed or arranged."""
        return replace(self, **fields)._led_on()

    def _led_on(self) -> Stand:
        """With the chords that lead on where the student wants them in this loop, and no others."""
        bars = with_passing_chords(self.song.unroll(), self.written, self.arranged, self.loop)
        same = all(a.chords == b.chords for a, b in zip(bars, self.bars, strict=True))
        return self if same else self._worked_out(self.own_pins)

    def with_hands(self, hands: str, rest_sounds: bool | None = None) -> Stand:
        """To be played with these hands. rest_sounds: None leaves it as it is. Raises HandsError where the song has no melody for the right
        hand."""
        if hands != "left" and not self.has_melody:
            raise HandsError(
                f"{self.song.title} has no melody, so there is nothing for the right hand: expected the left hand alone, or a melody in "
                "its chart"
            )
        return replace(self, hands=hands, rest_sounds=self.rest_sounds if rest_sounds is None else rest_sounds)

    def bars_counted(self, tempo_bpm: float, index: int | None = None) -> int:
        """How many bars are counted in at a tempo before a bar, None for the loop's first; a pickup may need more."""
        return whole_bars(self.count_in_bars, self.bars[self.loop[0] if index is None else index].meter, tempo_bpm)

    @property
    def has_melody(self) -> bool:
        """Whether any note of a melody is in the song."""
        return any(note.pitch is not None for note in self.melody)

    def melody_pitch(self, midi: int) -> Pitch:
        """A note of the melody, spelled as it is written there. Raises StopIteration where it has no such note."""
        return next(note.pitch for note in self.melody if note.pitch is not None and note.pitch.midi == midi)

    @property
    def sounding_hands(self) -> tuple[str, ...]:
        """The hands whose part the companion plays."""
        asked = {"left": self.demonstrate, "right": self.melody_sounds}
        own = hand_parts(self.hands)
        return tuple(part for part in HAND_PARTS if asked[part] or (self.rest_sounds and part not in own))

    @property
    def room_said(self) -> str:
        """What was done so that both hands have room, in a sentence, "" for nothing. That the melody went up is said where it is played, heard
        or was spoken of."""
        wanted = self.room_by is not None or "right" in (*hand_parts(self.hands), *self.sounding_hands)
        return self.room.said if self.room is not None and (wanted or not self.room.octaves) else ""

    @property
    def lies_back(self) -> bool:
        """Whether the melody is heard behind the beat: never beside a student who plays it and is marked by the beat."""
        return self.laid_back and (self.melody_sounds or "right" not in hand_parts(self.hands))

    def to_listen(self) -> Stand:
        """With the left hand and the melody to be heard."""
        return replace(self, demonstrate=True, melody_sounds=True)

    def with_tempo(self, tempo_bpm: float) -> Stand:
        """Held within TEMPO_LIMITS."""
        low, high = TEMPO_LIMITS
        return replace(self, tempo_bpm=min(high, max(low, tempo_bpm)))

    def with_key(self, key: Key | str) -> Stand:
        """The song in another key, its shells worked out anew. Pins are names of shells, so they move along where they still
        fit the hand; `dropped_pins` says which did not. They are back in a key where they do."""
        song = transpose(self.original, key)
        moved = replace(self, song=song, bars=song.unroll(), written=chorus_melody(song))
        return moved._worked_out(self.own_pins)

    def with_pin(self, index: int, chord_no: int, pin: Pin | None) -> Stand:
        """Pin the chord_no-th chord (from 0) of a bar to a shell, wherever its section comes; None takes the
        student's pin away. Raises ShellError where the pin cannot be kept."""
        pins = dict(self.own_pins)
        place = self.place_of(index, chord_no)
        if pin is None:
            pins.pop(place, None)
        else:
            pins[place] = pin
        return self.with_pins(pins, wanted=place)

    def with_pins(self, own_pins: Pins, wanted: ChordPlace | None = None) -> Stand:
        """With these pins of the student's. wanted: the one that must be kept, else ShellError; others that do not fit wait."""
        return self._worked_out(own_pins, kept=() if wanted is None else (wanted,))

    def with_room_by(self, room_by: str | None) -> Stand:
        """With both hands given room in that way: one of own_melody.ROOMS, None for as it was not said."""
        return replace(self, room_by=room_by)._worked_out(self.own_pins)

    def with_swung(self, swung: SwungChoice) -> Stand:
        """With the melody in another version."""
        return replace(self, swung=swung)._worked_out(self.own_pins)

    def with_rest(self, rest_on_fifth: str) -> Stand:
        """With sixth chords and major triads resting on root and fifth there: one of hands.hand.RESTS."""
        return replace(self, hand=replace(self.hand, rest_on_fifth=rest_on_fifth)).with_pins(self.own_pins)

    @property
    def may_rest(self) -> bool:
        """Whether any chord of the song may rest on root and fifth."""
        return any(may_rest(slot.chord) for slot in slots_of(self.song, self.bars) if slot.chord is not None)

    def shells_to_pin(self, index: int, chord_no: int) -> list[tuple[Shell, int]]:
        """Every shell that may be pinned there with what the chorus would then cost more than now, from low to high; a chord
        that is played has at least one. Less than 0 where the pin would save. index: bar in the chorus; chord_no: from 0."""
        placed, choice = self.choices_at(index)[chord_no]
        if placed.chord is None or choice.shell is None:
            return []
        found = []
        for shell in sorted(pinnable(placed.chord, self.hand), key=lambda shell: (shell.midi, shell.kind)):
            with contextlib.suppress(ShellError):  # a name that the chord's own symbol does not give it
                pinned = self.with_pin(index, chord_no, pin_of(shell))
                found.append((shell, pinned.part.cost - self.part.cost))
        return found

    def with_loop(self, indices: tuple[int, ...] | range, name: str) -> Stand:
        """Practise these bars of the chorus. Raises ValueError where there are none or one is not in the chorus."""
        loop = tuple(indices)
        if not loop or min(loop) < 0 or max(loop) >= len(self.bars):
            raise ValueError(f"a loop has bars from 1 to {len(self.bars)} of the chorus")
        return replace(self, loop=loop, loop_name=name)._led_on()

    def section_loops(self) -> list[tuple[str, tuple[int, ...]]]:
        """The whole form, then each section once, by its first coming in the form."""
        loops: list[tuple[str, tuple[int, ...]]] = [(WHOLE_FORM, tuple(range(len(self.bars))))]
        for name in dict.fromkeys(self.song.form):
            bars = tuple(bar.index for bar in self.bars if bar.section == name and bar.occurrence == 1)
            loops.append((name, bars))
        return loops

    def place_of(self, index: int, chord_no: int) -> ChordPlace:
        """Where a chord stands in its section. index: bar in the chorus from 0; chord_no: in the bar, from 0."""
        bar = self.bars[index]
        return (bar.section, bar.bar, chord_no + 1)

    def choices_at(self, index: int) -> tuple[tuple[PlacedChord, Choice], ...]:
        """The chords of a bar with their shells."""
        placed = self.bars[index].chords
        first = self.first_choice[index]
        return tuple(zip(placed, self.part.choices[first : first + len(placed)], strict=True))

    def next_index(self, index: int) -> int:
        """The bar that comes after this one in the loop; after the last, or from outside, the loop's first."""
        if index not in self.loop:
            return self.loop[0]
        return self.loop[(self.loop.index(index) + 1) % len(self.loop)]

    @property
    def harmonised(self) -> tuple[HarmonisedNote, ...]:
        """The melody of one chorus note by note with its company; () where it is to have none."""
        if self.arranged.voices == ALONE:
            return ()
        choice = self.arranged
        own = choice.voices, choice.tensions, choice.notes
        return harmonised(
            self.song, self.bars, self.part, self.written, self.melody, self.own_fingers, *own, self.hand.limits
        )

    def ornaments(self, *, once: bool = False, then: Then | None = None) -> Ornaments:
        """What is chosen of fills and of what ends phrases. once: the whole form is played, and `then` follows; else the loop comes again and again."""
        order = tuple(range(len(self.bars))) if once else self.loop
        return ornaments_of(self.tune, self.hand.lowest_root, order, then, comes_again=not once)

    @property
    def tune(self) -> TuneOnStand:
        """What ornaments are proposed for."""
        return TuneOnStand(
            self.song,
            self.bars,
            self.part,
            self.melody,
            self.harmonised,
            self.arranged,
            self.written,
            self.own_fingers,
        )

    def arrangement(self, ornaments: Ornaments | None = None) -> Arrangement:
        """What the sound process needs to play the loop. ornaments: None for those of the loop."""
        ornaments = self.ornaments() if ornaments is None else ornaments
        bars, pickup = groove_of(self.bars, self.part, self.melody, self.loop, self.harmonised, ornaments)
        return Arrangement(
            bars=bars,
            parts=(*BAND, *self.sounding_hands, *(() if self.calls == "off" else (CALLS,))),
            pattern=self.pattern,
            click=self.click,
            bass=self.bass,
            feel=self.song.feel,
            swing_ratio=self.swing_ratio,
            laid_back=self.lies_back,
            count_in_bars=self.count_in_bars,
            pickup_ticks=self.bars[0].meter.ticks(self.song.pickup) if self.loop[0] == 0 else 0,
            pickup=pickup,
            seed=self.seed,
            touch_seed=crc32(self.original.title.encode()),
        )


def shell_words(shell: Shell | None) -> str:
    """ "root-third  F2 A2", or "rest" where no chord is played."""
    return "rest" if shell is None else f"{shell.kind}  {' '.join(shell.names)}"
