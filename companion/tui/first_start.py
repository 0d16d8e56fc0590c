"""The first start of all: the cautions, three pages on hand, keyboard and sound, and the first song, which is heard first and teaches its keys."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.base.files import write_text
from companion.tui.key_lesson import NAMES, KeyLesson

if TYPE_CHECKING:
    from companion.practice.planning.plan import PlanItem
    from companion.session.changes import Change
    from companion.session.conductor import Conductor
    from companion.session.student_settings import StudentSettings
    from companion.store.paths import Paths
    from companion.tui.keymap import Keymap


class FirstStart:
    """is_new: whether nothing of the student's is there: no cautions shown, no settings, no log. lesson: of the keys; what is left of it is kept,
    so that a first evening that was cut short goes on."""

    def __init__(
        self,
        paths: Paths,
        student: StudentSettings,
        keymap: Keymap,
        open_screen: Callable[..., None],
        complain: Callable[[str], None],
        say: Callable[[str], None],
    ) -> None:
        # False too where one may not look.
        self._cautioned = os.path.exists(paths.cautions_shown)
        self.is_new = not self._cautioned and not any(map(os.path.exists, (paths.settings, paths.log)))
        self._keep: Callable[[str], None] = lambda names: student.keep_screen("keys_to_learn", names)
        unused = NAMES if self.is_new else student.now.keys_to_learn.split()
        self.lesson = KeyLesson(unused, keymap, self._keep, say)
        self._paths, self._open, self._complain = paths, open_screen, complain
        self._song: str | None = None  # the first one's id

    def begin(self, then: Callable[[], None]) -> None:
        """Show the cautions where they never were, and to a new student the pages. What was shown is kept at once, so that nothing comes
        twice however the app ends. then: called once a new student has done with the pages."""
        if self._cautioned:
            return
        if self.is_new:
            self._keep(" ".join(NAMES))
            self._open("first", taken=lambda _: then())
        self._open("cautions")
        try:
            write_text(self._paths.cautions_shown, "The cautions were shown.\n")
        except OSError as error:
            self._complain(f"{self._paths.cautions_shown}: cannot be written ({error.strerror}); they come again.")

    def begin_song(self, conductor: Conductor, item: PlanItem | None) -> list[Change]:
        """A song is on the stand. The first that a new student starts is to be heard first, as its lesson begins; with the next one the keys are known.
        item: of today's plan, which sets how it is practised."""
        song_id, is_begun = conductor.stand.original.id, "start" not in self.lesson.unused
        if is_begun and self._song not in (None, song_id):
            self.lesson.end()
        self._song = song_id
        return [] if is_begun or item is not None else conductor.practise("listen", then_asks=True)
