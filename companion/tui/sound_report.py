"""How a report of the sound process reaches the app."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message


@dataclass
class SoundReport(Message):
    """said: one report (see sound.messages), posted from the link's thread."""

    said: object
