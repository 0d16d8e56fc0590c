"""The stand's export: which kind of file, where to, and then a process apart that writes it while the song may play on. And the song with all that
belongs to it in one file, for the teacher or back."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from companion.base.files import write_target
from companion.base.text import plural
from companion.errors import WriteError
from companion.export.formats import FORMATS, TRACKS, format_of
from companion.export.options import MOST_CHORUSES, ExportOptions, parts_beside
from companion.session.stand import Stand
from companion.session.stand_changes import LOOPS
from companion.tui.draw.view import View
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_ENDINGS = tuple(kind.ending for kind in FORMATS)
_FADED = "faded"
_FADED_ENDING = _SHEET_ENDING = ".pdf"
# A sheet holds what these hands play, a track or MIDI file leaves it out; with neither each holds all there is.
_HANDS_WORDS = {"left": "left hand", "right": "right hand", "both": "both hands", None: "neither hand"}
MOST_ROUNDS = 20


class StandExport:
    """view: gives what the stand shows now."""

    def __init__(self, companion: Companion, view: Callable[[], View]) -> None:
        self._companion, self._view = companion, view
        self._choruses = 3
        self._round = 2
        self._hands: str | None = None
        self._loop_alone = False

    @property
    def _stand(self) -> Stand:
        """What is exported: the whole song unless the loop is wanted."""
        stand = self._view().stand
        return stand if self._loop_alone else LOOPS["whole"](stand)

    def ask(self) -> None:
        """Which kind of file, then where to: of the whole song, or by one key of the loop; for the hands that play on the stand, or by one key others where
        the right one takes part."""
        kinds = [*_ENDINGS, _FADED]
        stand = self._view().stand
        chooses = stand.has_melody and (stand.hands != "left" or stand.rest_sounds)
        self._hands = stand.hands if chooses else None

        loops = len(stand.loop) < len(stand.bars)
        self._loop_alone = False

        def title() -> str:
            what = "Export what?"
            if loops:
                now, else_ = stand.loop_name, "the whole song"
                now, else_ = (now, else_) if self._loop_alone else (else_, now)
                what = f"Export {now} (l: {else_})."
            return f"{what} You play: {_HANDS_WORDS[self._hands]} (h: others)" if chooses else what

        def other(kind: str, sign: str) -> list[str]:
            choices = list(_HANDS_WORDS)
            if sign == "l":
                self._loop_alone = not self._loop_alone
            else:
                self._hands = choices[(choices.index(self._hands) + 1) % len(choices)]
            return [self._kind_words(kind) for kind in kinds]

        def changed(kind: str, step: int) -> str:
            if kind in TRACKS:
                self._choruses = max(1, min(MOST_CHORUSES, self._choruses + step))
            elif kind == _FADED:
                self._round = max(1, min(MOST_ROUNDS, self._round + step))
            return self._kind_words(kind)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._ask_where(item.value)

        items = [Item(self._kind_words(kind), kind) for kind in kinds]
        signs = "h" * chooses + "l" * loops
        self._companion.open("pick", title, items, 0, None, changed, other, signs, taken=taken)

    def _kind_words(self, kind: str) -> str:
        if kind == _FADED:
            return f"{_FADED_ENDING:<10} a sheet to play from memory, ← round {self._round} →, then the answers"
        choruses = f", ← {plural(self._choruses, 'chorus', 'choruses')} →" if kind in TRACKS else ""
        return f"{kind:<10} {format_of(Path('x' + kind)).words}{choruses}"

    def _ask_where(self, kind: str) -> None:
        faded = kind == _FADED
        ending = _FADED_ENDING if faded else kind
        stand, hands = self._stand, self._hands
        options = ExportOptions(
            hands=hands,
            parts=_heard_beside(stand, hands) if hands and not faded and format_of(Path("x" + kind)).plays else None,
            choruses=self._choruses if kind in TRACKS else None,
            round=self._round if faded else None,
        )
        more = f"-{hands}-hand{'s' if hands == 'both' else ''}" if hands else ""
        more += f"-round-{self._round}" if faded else ""
        name = free_name(self._companion.exports, stand, more, ending)

        def check(text: str) -> str:
            if Path(text).suffix.casefold() != ending:
                return f"Expected a name that ends in {ending}."
            return ""

        def typed(text: str | None) -> None:
            if text:
                self._check_place(Path(os.path.expanduser(text)), options)

        hint = "Or type another path."
        self._companion.open("ask", "Where to? enter takes it", str(name), hint, check, (ending,), taken=typed)

    def _check_place(self, path: Path, options: ExportOptions) -> None:
        if not os.path.isfile(path):
            self._export(path, options)
            return

        def taken(item: Item | None) -> None:
            if item is not None and item.value:
                self._export(path, replace(options, force=True))

        items = [Item("keep it", False), Item("replace it", True)]
        self._companion.open("pick", f"{path.name} is there already", items, taken=taken)

    def _export(self, path: Path, options: ExportOptions) -> None:
        self._write(self._stand, path, options, self._exported)

    def _write(self, stand: Stand, path: Path, options: ExportOptions, then: Callable[[list[Path]], None]) -> None:
        try:
            if path.parent == self._companion.exports:
                path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            self._companion.complain(f"{path.parent} cannot be made: {error.strerror}")
            return
        self._companion.say(f"Writing {path.name} ...")
        settings = self._companion.settings

        def work() -> list[Path]:
            from companion.export.apart import export_apart

            return export_apart(stand, path, options, settings)

        self._companion.in_background(f"Writing {path.name}", work, then)

    def sheet(self) -> None:
        """Print the whole song for both hands, under a name that is free; what is played goes on, and no page covers it."""
        stand, companion = LOOPS["whole"](self._view().stand), self._companion
        path = free_name(companion.exports, stand, "-both-hands", _SHEET_ENDING)
        self._write(stand, path, ExportOptions(hands="both"), lambda written: companion.say(f"Written: {written[0]}"))

    def send(self) -> None:
        """Write what `companion send` writes into the folder of exports, under a name that is free."""
        companion, song = self._companion, self._view().stand.original
        folder, paths, settings, log = companion.exports, companion.paths, companion.settings, companion.practice_log

        def work() -> list[Path]:
            from companion.reports.sending import ENDING, song_to_send
            from companion.session.overview import now_here

            data = song_to_send(song, paths, settings, log, now_here())
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise WriteError(f"{folder} cannot be made: {error.strerror}") from None
            path = free_path(folder, song.id, ENDING)
            write_target(path, data, force=False)
            return [path]

        companion.say(f"Packing {song.title} ...")
        companion.in_background(f"Packing {song.title}", work, self._exported)

    def _exported(self, written: list[Path]) -> None:
        """Where they are, in full; while it plays no page covers what is played."""
        lines = "\n".join(map(str, written))
        if self._view().playing:
            self._companion.say(f"Written: {lines}")
        else:
            self._companion.unsay()  # that it is being written
            self._companion.open("read", "Written", lines, folder=written[0].parent)


def _heard_beside(stand: Stand, hands: str) -> tuple[str, ...]:
    """What a track holds beside a student who plays with these hands, without what is off on the stand; the click where nothing else is left."""
    off = {"bass" if stand.bass == "off" else "", "click" if stand.click.mode == "off" else ""}
    return tuple(part for part in parts_beside(hands) if part not in off) or ("click",)


def free_name(folder: Path, stand: Stand, more: str, ending: str) -> Path:
    """A name that says song, key where it is not the song's own, loop where it is not all, and that is not there yet."""
    own = stand.song.key == stand.original.key
    key = "" if own else "-in-" + stand.key.name.replace("#", "-sharp").replace("b", "-flat")
    loop = "" if len(stand.loop) == len(stand.bars) else "-" + "-".join(stand.loop_name.split())
    return free_path(folder, f"{stand.song.id}{key}{loop}{more}", ending)


def free_path(folder: Path, stem: str, ending: str) -> Path:
    """The name, numbered where it is taken."""
    names = (f"{stem}{number}{ending}" for number in ("", *(f"-{count}" for count in range(2, 1000))))
    return next((folder / name for name in names if not os.path.exists(folder / name)), folder / f"{stem}{ending}")
