"""The changes called aloud: what a song needs is spoken in a thread of its own before it is due, and handed to the sound process."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable
from pathlib import Path

from companion.errors import SpeechError
from companion.sound.messages import SPOKEN_RATE, Say, Spoken

SAID_S = 30.0  # so long a sentence may take


def cannot_speak(output: str, what: str = "The changes are called") -> str:
    """Why nothing is spoken, "" where it can be. output: that sounds, "" before that is known. what: is to be spoken."""
    whys = {"midi": "a MIDI port cannot speak", "silent": "nothing sounds now"}
    return f"{what} with the built-in sound alone: {whys[output]}." if output in whys else ""


def too_fast(tempo_bpm: float) -> str:
    """Why nothing is called."""
    from companion.groove.calls import MOST_BPM

    return f"The changes are called up to {MOST_BPM:g} beats a minute; at {tempo_bpm:g} they are not."


class Caller:
    """folder: where what was spoken is kept. send: to the sound process. tell: takes a sentence where nothing can be spoken, once; both are
    called from the thread. fault: that sentence, "" while all is well."""

    def __init__(self, folder: Path, send: Callable[[object], None], tell: Callable[[str], None]) -> None:
        self.fault = ""
        self._folder, self._send, self._tell = folder, send, tell
        self._known: set[str] = set()
        self._waiting: deque[str] = deque()
        self._saying = ""  # to be heard as soon as it is spoken
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None

    def want(self, words: Iterable[str]) -> None:
        """Have these spoken, the first of them first. Never waits."""
        with self._changed:
            words = tuple(words)
            if not words:  # off: wished anew, what failed is tried once more
                self.fault = ""
            new = [each for each in words if each not in self._known]
            if not new or self.fault:
                return
            self._known.update(new)
            self._waiting.extend(new)
            self._go_on()

    def say(self, words: str) -> None:
        """Have this spoken and heard at once, in place of what was to be said before. Never waits."""
        with self._changed:
            if not self.fault:
                self._saying = words
                self._go_on()

    def hush(self) -> None:
        """What is not said yet is not said: something else is going to sound."""
        with self._changed:
            self._saying = ""

    def _go_on(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True, name="companion speech")
            self._thread.start()

    def wait(self, seconds: float) -> bool:
        """Until all that is wanted was handed on or failed, at most so long; whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: self._thread is None, seconds)

    def _work(self) -> None:
        from companion.groove.calls import call_seconds  # a song's rooms: the app's first paint needs none of them
        from companion.speech.speaker import Speaker  # numpy: 58 ms

        speaker = Speaker(self._folder)
        while (following := self._next()) is not None:
            words, is_said = following
            try:
                most_s = SAID_S if is_said else call_seconds(words)
                samples = speaker.samples(words, most_s, SPOKEN_RATE, keep=not is_said)
            except SpeechError as error:
                self._fail(str(error))
                return
            except Exception as error:  # the thread's own end would be seen by nobody
                self._fail(f"Speaking failed ({error}): the changes are not called.")
                return
            data = (samples * 32767).astype("<i2").tobytes()
            if is_said:
                self._let_hear(words, data)
            else:
                self._send(Spoken(words, data))

    def _let_hear(self, words: str, data: bytes) -> None:
        """Unless something else is to be said or heard by now; whoever begins that waits here for its turn."""
        with self._changed:
            if self._saying == words:
                self._saying = ""
                self._send(Say(data))

    def _next(self) -> tuple[str, bool] | None:
        """(words, whether they are to be heard at once)."""
        with self._changed:
            if self._saying:
                return self._saying, True
            if self._waiting:
                return self._waiting.popleft(), False
            self._thread = None
            self._changed.notify_all()
            return None

    def _fail(self, sentence: str) -> None:
        with self._changed:
            self.fault = sentence
            self._waiting.clear()
            self._known.clear()
            self._saying = ""
            self._thread = None
            self._changed.notify_all()
        self._tell(sentence)
