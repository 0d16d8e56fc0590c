"""What reads our files in the tests asks nothing of the net."""

from __future__ import annotations

import sys
from types import ModuleType


def keep_partitura_offline() -> None:
    """partitura fetches a SoundFont of 40 MB as it is imported wherever bindings of FluidSynth are installed, and is not to be had without a net: what would play it, which
    no test asks for, is taken for loaded."""
    player = ModuleType("partitura.utils.fluidsynth")
    player.__dict__["__getattr__"] = lambda name: None
    sys.modules.setdefault(player.__name__, player)
