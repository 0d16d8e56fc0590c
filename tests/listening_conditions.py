"""What is done to the takes that are made up for the listener."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Condition:
    """What is done to a take. supported: whether the product promises its figures there. tempi: pulses a minute. levels in dB against the piano, None for without.
    leak: click and bass from the loudspeaker; cancelled: taken out by what is known of them; ppm: how far the two clocks are apart. mixed: what keeps the time is one of
    names.CLICK_MODES and sounds as the mixer gives it, bass and click with their rooms on two sides; speakers: so many, each with its own way to the microphone."""

    name: str
    supported: bool = True
    tempi: tuple[float, float] = (60.0, 150.0)
    room: tuple[float, float] = (0.2, 0.6)  # seconds to -60 dB
    wet: tuple[float, float] = (0.2, 0.7)  # energy of the room against the direct sound
    noise_db: float = -42.0
    hum_db: float | None = None
    laptop: bool = False
    cents: float = 0.0
    velocities: tuple[int, int] = (48, 100)
    lengths: str = "mixed"
    rolls: float = 0.25
    melody_db: float | None = None
    melody_told: bool = True
    melody_slips: float = 0.0  # share of the melody's notes that are another than was due
    voice_db: float | None = None
    pedal: bool = False
    agc: bool = False
    moved: bool = False
    leak_db: float | None = None
    cancelled: bool = False
    ppm: float = 0.0
    mixed: str = ""
    speakers: int = 1
    other_piano: bool = False


CONDITIONS = (
    Condition("plain room"),
    Condition("dry room", room=(0.1, 0.2), wet=(0.05, 0.2)),
    Condition("live room", room=(0.6, 1.0), wet=(0.5, 1.2)),
    Condition("noise 30 dB below", noise_db=-30.0),
    Condition("noise 60 dB below", noise_db=-60.0),
    Condition("hum", hum_db=-26.0),
    Condition("laptop microphone", laptop=True),
    Condition("30 cents flat", cents=-30.0),
    Condition("staccato", lengths="staccato"),
    Condition("held", lengths="held"),
    Condition("rolled to 60 ms", rolls=1.0),
    Condition("soft and loud", velocities=(30, 115)),
    Condition("60 a minute", tempi=(60.0, 60.0)),
    Condition("160 a minute", tempi=(160.0, 160.0)),
    Condition("leak cancelled", leak_db=-12.0, cancelled=True),
    Condition("leak cancelled, 30 ppm", leak_db=-12.0, cancelled=True, ppm=30.0),
    Condition("leak -6 dB cancelled, 60 ppm", False, leak_db=-6.0, cancelled=True, ppm=60.0),
    Condition("leak not cancelled", False, leak_db=-12.0),
    Condition("noise 20 dB below", False, noise_db=-20.0),
    Condition("melody above, due", False, melody_db=0.0),
    Condition("melody above, with slips", False, melody_db=0.0, melody_slips=0.25),
    Condition("melody above, not told", False, melody_db=0.0, melody_told=False),
    Condition("voice -12 dB", False, voice_db=-12.0),
    Condition("voice 0 dB", False, voice_db=0.0),
    Condition("pedal", False, pedal=True),
    Condition("automatic level", False, agc=True),
    Condition("microphone moved", False, moved=True),
    Condition("220 a minute", False, tempi=(220.0, 220.0)),
    Condition("another piano's scale", False, other_piano=True),
)
_LEAK = Condition("", False, leak_db=-12.0, cancelled=True)
# Beside those that weights are made with.
MEASURED = (
    *CONDITIONS,
    replace(_LEAK, name="click as mixed, cancelled", mixed="every"),
    replace(_LEAK, name="click, two speakers, cancelled", mixed="every", speakers=2),
    replace(_LEAK, name="ride, cancelled", mixed="ride-always"),
    replace(_LEAK, name="ride, two speakers, cancelled", mixed="ride-always", speakers=2),
    replace(_LEAK, name="ride -6 dB, cancelled", mixed="ride-always", leak_db=-6.0),
    replace(_LEAK, name="ride, not cancelled", mixed="ride-always", cancelled=False),
)
