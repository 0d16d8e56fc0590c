"""A chord as spelled tones: what `symbols.parse_chord` returns and the solver reads."""

from __future__ import annotations

from dataclasses import dataclass

from companion.theory.pitch import Tone, degree_interval


@dataclass(frozen=True, slots=True)
class Chord:
    """symbol: as the student wrote it. root: spelled. family: decides which shells it may take, see hands.left.options.ROOT_TIERS.
    degrees: scale degrees above the root in rising order, "1" first: ("1", "b3", "5", "b7", "9").
    bass: the slash bass, None without one.
    """

    symbol: str
    root: Tone
    degrees: tuple[str, ...]
    family: str
    bass: Tone | None = None

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The spelled tones in the order of `degrees` (the slash bass is not among them unless it is a chord tone)."""
        return tuple(self.root.degree(degree) for degree in self.degrees)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Of all tones, 0 to 11."""
        return frozenset(tone.pc for tone in self.tones)

    @property
    def semitones(self) -> tuple[int, ...]:
        """Semitones of each degree above the root, not folded into one octave: a ninth is 14."""
        return tuple(degree_interval(degree)[1] for degree in self.degrees)

    def degree(self, number: int) -> str | None:
        """The chord's degree of that number with its sign: Cm7b5.degree(5) is "b5"; None where it has none.

        Where both an altered pair is present (b9 and #9) the lower one is returned.
        """
        for degree in self.degrees:
            if degree_interval(degree)[0] == number:
                return degree
        return None

    def tone(self, number: int) -> Tone | None:
        """The spelled tone of that degree, None where the chord has none; see `degree`."""
        degree = self.degree(number)
        return None if degree is None else self.root.degree(degree)

    def __str__(self) -> str:
        return self.symbol
