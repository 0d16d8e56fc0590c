"""The signs that send a player elsewhere: D.C., D.S., Fine, segno, coda; as words, as signs, as attributes of sound."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from companion.importing.score import SheetBar

# Words as engravers set them -> what they do (common practice).
_WORDS = (
    (r"(d\.? ?c\.?|da capo)( (al|to) (the )?fine)", {"jump": "start", "until": "fine"}),
    (r"(d\.? ?c\.?|da capo)( (al|to) (the )?(𝄌|coda))( .*)?", {"jump": "start", "until": "coda"}),
    (r"(d\.? ?c\.?|da capo)", {"jump": "start"}),
    (r"(d\.? ?s\.?|dal segno)( (al|to) (the )?fine)", {"jump": "segno", "until": "fine"}),
    (r"(d\.? ?s\.?|dal segno)( (al|to) (the )?(𝄌|coda))( .*)?", {"jump": "segno", "until": "coda"}),
    (r"(d\.? ?s\.?|dal segno)", {"jump": "segno"}),
    (r"fine", {"is_fine": True}),
    (r"(to|al) (the )?(𝄌|coda)( 𝄌)?", {"to_coda": True}),
    (r"𝄌|coda", {"is_coda": True}),
    (r"𝄋|segno", {"is_segno": True}),
)  # fmt: skip
# music21's names of the same.
_NAMES = {
    "Coda": {"is_coda": True},
    "Segno": {"is_segno": True},
    "Fine": {"is_fine": True},
    "DaCapo": {"jump": "start"},
    "DaCapoAlFine": {"jump": "start", "until": "fine"},
    "DaCapoAlCoda": {"jump": "start", "until": "coda"},
    "DalSegno": {"jump": "segno"},
    "DalSegnoAlFine": {"jump": "segno", "until": "fine"},
    "DalSegnoAlCoda": {"jump": "segno", "until": "coda"},
}
# Attributes of MusicXML's <sound> element (MusicXML 4.0).
_SOUNDS = {
    "dacapo": {"jump": "start"},
    "dalsegno": {"jump": "segno"},
    "fine": {"is_fine": True},
    "tocoda": {"to_coda": True},
    "segno": {"is_segno": True},
    "coda": {"is_coda": True},
}


@dataclass(frozen=True, slots=True)
class Steering:
    """The fields of SheetBar of these names."""

    is_segno: bool = False
    is_coda: bool = False
    to_coda: bool = False
    is_fine: bool = False
    jump: str = ""
    until: str = ""

    @classmethod
    def from_sound(cls, attributes: Mapping[str, str]) -> Steering:
        fields: dict[str, bool | str] = {}
        for name, value in attributes.items():
            if name in _SOUNDS and value != "no":
                fields |= _SOUNDS[name]
        return cls(**fields)

    @classmethod
    def from_name(cls, name: str) -> Steering:
        return cls(**_NAMES.get(name, {}))

    def apply(self, bar: SheetBar) -> None:
        """Add these signs to a bar's."""
        bar.is_segno |= self.is_segno
        bar.is_coda |= self.is_coda
        bar.to_coda |= self.to_coda
        bar.is_fine |= self.is_fine
        bar.jump = bar.jump or self.jump
        bar.until = bar.until or self.until


def steering_of(words: str) -> Steering | None:
    """What words such as "D.S. al Coda" tell a player; None for other words."""
    plain = " ".join(words.lower().replace("\n", " ").split()).strip(" ().,;:\"'")
    plain = plain.replace("da  capo", "da capo")
    for pattern, fields in _WORDS:
        if re.fullmatch(pattern, plain) or re.fullmatch(pattern, plain + "."):
            return Steering(**fields)
    return None
