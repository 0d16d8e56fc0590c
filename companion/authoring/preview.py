"""The song so far, on a stand: the shells of its bars, and what of it can be heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from companion.authoring.draft import Page, Spot
from companion.authoring.draft_song import so_far
from companion.errors import CompanionError
from companion.groove.model import Click
from companion.hands.left.model import Choice
from companion.session.stand import Stand
from companion.store.settings import Settings


class Preview:
    """no_shell: why the song so far has no shells, "" where it has."""

    def __init__(self) -> None:
        self.no_shell = ""
        self._stand: Stand | None = None
        self._index: Mapping[Spot, int] = {}  # where its bars stand in the chorus

    def read(self, page: Page, settings: Settings) -> None:
        """Work out the shells of every bar that is understood."""
        self._stand, self._index, self.no_shell = None, {}, ""
        if (read := so_far(page)) is None:
            return
        try:
            self._stand, self._index = Stand.put(read.song, settings), read.index
        except CompanionError as error:
            self.no_shell = str(error)

    def shells(self, spot: Spot) -> Sequence[tuple[str, Choice]] | None:
        """Each chord of a bar as written with its shell; None where the bar is not understood."""
        if self._stand is None or spot not in self._index:
            return None
        return tuple((placed.symbol, choice) for placed, choice in self._stand.choices_at(self._index[spot]))

    def of_bar(self, spot: Spot) -> Stand | None:
        """Set to play this bar once, shells and bass; None where it is not understood."""
        return self._of([self._index[spot]] if spot in self._index else [])

    def of_stretch(self, spot: Spot) -> Stand | None:
        """Set to play from this bar to the end of its section once, as far as it is understood without a gap: click and bass after two bars
        of count-in, for a melody to be played in."""
        section, bar = spot
        bars = []
        while (section, bar) in self._index:
            bars.append(self._index[section, bar])
            bar += 1
        if self._stand is None or not bars:
            return None
        return self._stand.with_loop(tuple(bars), "played in").change(
            demonstrate=False, count_in_bars=2, click=Click("every")
        )

    def of_section(self, number: int) -> Stand | None:
        """Set to play what is understood of a section."""
        return self._of({index for (section, _), index in self._index.items() if section == number})

    def _of(self, bars: Sequence[int] | set[int]) -> Stand | None:
        if self._stand is None or not bars:
            return None
        return self._stand.with_loop(tuple(sorted(bars)), "heard").change(
            demonstrate=True, melody_sounds=True, count_in_bars=0
        )
