"""The signs that send a player elsewhere: D.C., D.S., Fine, segno, coda; as words, as signs, as attributes of sound."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from companion.importing.score import Steering

# Words as engravers set them -> what they do (common practice).
_WORDS: tuple[tuple[str, dict[str, Any]], ...] = (
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
_NAMES: dict[str, dict[str, Any]] = {
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
_SOUNDS: dict[str, dict[str, Any]] = {
    "dacapo": {"jump": "start"},
    "dalsegno": {"jump": "segno"},
    "fine": {"is_fine": True},
    "tocoda": {"to_coda": True},
    "segno": {"is_segno": True},
    "coda": {"is_coda": True},
}


def steering_of_sound(attributes: Mapping[str, str]) -> Steering:
    """What the attributes of a <sound> element tell a player."""
    found = Steering()
    for name, value in attributes.items():
        if name in _SOUNDS and value != "no":
            found.add(Steering(**_SOUNDS[name]))
    return found


def steering_of_name(name: str) -> Steering:
    """What a sign tells a player, by the name that music21 has for it."""
    return Steering(**_NAMES.get(name, {}))


def steering_of(words: str) -> Steering | None:
    """What words such as "D.S. al Coda" tell a player; None for other words."""
    plain = " ".join(words.lower().replace("\n", " ").split()).strip(" ().,;:\"'")
    plain = plain.replace("da  capo", "da capo")
    for pattern, fields in _WORDS:
        if re.fullmatch(pattern, plain) or re.fullmatch(pattern, plain + "."):
            return Steering(**fields)
    return None
