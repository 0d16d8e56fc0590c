"""Takes made up for the listener, with all that was done in them known: shells of our own songs played by a sampled piano in a made-up room.

A take and the scale that its piano is learned from share piano, room and microphone. Seeds from SEEDS_KEPT on are for the last evaluation alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from pianos_sampled import RATE, Bank, bank
from shipped import SONGS

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.stand import Stand
from companion.sound.listening.echo import RESPONSE, Echo, measure, measuring_noise
from companion.sound.listening.verdicts import Due
from companion.sound.voices import render
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SEEDS_KEPT = 10_000
STRIKES = 40
SLIP_SHARE = 0.15
SLIPS = ("third", "other shell", "semitone", "octave", "chord before", "one note", "none", "early", "late")
PATTERNS = ("four", "two", "charleston")


@dataclass(frozen=True)
class Condition:
    """What is done to a take. supported: whether the product promises its figures there. tempi: pulses a minute. levels in dB against the piano, None for without.
    leak: click and bass from the loudspeaker; cancelled: taken out by what is known of them; ppm: how far the two clocks are apart."""

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


@dataclass
class Strike:
    """What was played for a due strike: keys with their onsets, which slip it was, "" for none, and the note of the melody that came with it or after it, with its onset."""

    due: Due
    slip: str = ""
    keys: list[tuple[int, float]] = field(default_factory=list)
    above: tuple[int, float] | None = None

    @property
    def onset_s(self) -> float | None:
        return min((onset_s for _, onset_s in self.keys), default=None)


@dataclass
class MadeTake:
    sound: np.ndarray
    scale: np.ndarray
    strikes: list[Strike]


def make(piano: str, condition: Condition, seed: int, slips: bool = True, strikes: int = STRIKES) -> MadeTake:
    """slips: whether SLIP_SHARE of the strikes are one of SLIPS."""
    rng = np.random.default_rng((seed, sum(map(ord, piano + condition.name))))
    from_bank = bank(piano)
    place = Place.some(condition, rng)
    strikes_due, beat_s = due_strikes(condition, rng, strikes)
    played = played_strikes(strikes_due, rng, condition, slips)
    dry = left_hand(from_bank, played, condition, rng)
    loud = _rms(dry)
    melody, also = right_hand(from_bank, played, condition, rng, loud, len(dry))
    if condition.melody_told:
        for strike, keys in zip(played, also):
            strike.due = replace(strike.due, also=keys)
    sound = place.heard(dry + melody, rng)
    if condition.moved:
        half = len(sound) // 3
        sound[half:] = replace(place, response=Place.some(condition, rng).response).heard(dry + melody, rng)[half:]
    sound += noise_of(condition, len(sound), loud, rng)
    if condition.voice_db is not None:
        sound += voice(len(sound), rng) * loud * 10.0 ** (condition.voice_db / 20.0)
    if condition.leak_db is not None:
        sound = with_leak(sound, condition, played, beat_s, loud, rng)
    if condition.agc:
        sound = levelled(sound)
    learned = bank("timgm" if piano != "timgm" else "fluid") if condition.other_piano else from_bank
    scale = place.heard(scale_sound(learned, rng), rng)
    scale += noise_of(condition, len(scale), loud, rng)
    scale = levelled(scale) if condition.agc else scale
    cents = 2.0 ** (condition.cents / 1200.0)
    if cents != 1.0:  # the whole recording read slower: what is due comes that much later
        sound, scale = _slower(sound, cents), _slower(scale, cents)
        for strike in played:
            strike.keys = [(key, at_s / cents) for key, at_s in strike.keys]
            strike.above = (strike.above[0], strike.above[1] / cents) if strike.above else None
            strike.due = replace(strike.due, time_s=strike.due.time_s / cents)
    gain = 10.0 ** rng.uniform(-1.0, 0.3)
    return MadeTake((sound * gain).astype(np.float32), (scale * gain).astype(np.float32), played)


@cache
def _stand(number: int) -> Stand:
    settings = load_settings(find_paths({"COMPANION_HOME": "/nowhere"}))
    return Stand.put(SONGS[number], settings)


def due_strikes(condition: Condition, rng: np.random.Generator, count: int) -> tuple[list[Due], float]:
    """Strikes of one of our songs, from somewhere in its form; and the seconds of a beat."""
    while True:
        stand = _stand(int(rng.integers(len(SONGS))))
        tempo = float(rng.uniform(*condition.tempi))
        arrangement = replace(stand.arrangement(), pattern=str(rng.choice(PATTERNS)))
        try:
            expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, tempo))
        except KeyError:
            continue
        expected = tuple(strike for strike in expected if strike.notes)
        if len(expected) < 12:
            continue
        first = int(rng.integers(max(1, len(expected) - count)))
        chosen = expected[first : first + count]
        start_s = chosen[0].due_s - 1.5
        dues = [
            Due(number, strike.due_s - start_s, strike.notes, window_s=strike.window_s)
            for number, strike in enumerate(chosen)
        ]
        return dues, 60.0 / tempo


def played_strikes(dues: list[Due], rng: np.random.Generator, condition: Condition, slips: bool) -> list[Strike]:
    strikes: list[Strike] = []
    for number, due in enumerate(dues):
        slip = str(rng.choice(SLIPS)) if slips and rng.random() < SLIP_SHARE else ""
        at_s = due.time_s + float(np.clip(rng.normal(0.0, 0.015), -0.04, 0.04))
        notes: tuple[int, ...] = due.notes
        root, upper = notes[0], notes[-1]
        if slip == "third":
            change = int(rng.choice((3, 4, -3, -4)))
            notes = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
        elif slip == "other shell":
            notes = (root, root + int(rng.choice([step for step in (3, 4, 9, 10, 11) if root + step != upper])))
        elif slip == "semitone":
            change = int(rng.choice((-1, 1)))
            notes = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
        elif slip == "octave":
            notes = (root, upper + 12) if rng.random() < 0.5 else (root + 12, upper + 12)
        elif slip == "chord before":
            before = [other.notes for other in dues[:number] if set(other.notes).isdisjoint(notes)]
            slip, notes = (slip, before[-1]) if before else ("", notes)
        elif slip == "one note":
            notes = (root,) if rng.random() < 0.5 else (upper,)
        elif slip == "none":
            notes = ()
        elif slip in ("early", "late"):
            at_s += (-1 if slip == "early" else 1) * 0.75 * due.window_s
        notes = tuple(sorted({min(max(note, 36), 76) for note in notes}))
        if notes == due.notes and slip not in ("early", "late"):
            slip = ""
        roll_s = float(rng.uniform(0.0, 0.060)) if rng.random() < condition.rolls else float(abs(rng.normal(0, 0.004)))
        strikes.append(Strike(due, slip, [(note, at_s + roll_s * place) for place, note in enumerate(notes)]))
    return strikes


def left_hand(from_bank: Bank, strikes: list[Strike], condition: Condition, rng: np.random.Generator) -> np.ndarray:
    sound = np.zeros(int((strikes[-1].due.time_s + 2.5) * RATE), dtype=np.float32)
    times = [strike.due.time_s for strike in strikes]
    for number, strike in enumerate(strikes):
        gap_s = (times[number + 1] if number + 1 < len(times) else times[number] + 1.0) - times[number]
        kind = condition.lengths if condition.lengths != "mixed" else str(rng.choice(("staccato", "held", "usual")))
        held_s = {"staccato": rng.uniform(0.08, 0.18), "held": gap_s + 0.02, "usual": gap_s * rng.uniform(0.5, 0.9)}[
            kind
        ]
        held_s = 9.0 if condition.pedal else float(held_s)
        velocity = float(rng.uniform(*condition.velocities))
        for note, at_s in strike.keys:
            own = int(np.clip(velocity + rng.normal(0, 6), 20, 120))
            add(sound, from_bank, note, own, at_s, held_s, until_s=_pedal_up(at_s, times) if condition.pedal else None)
    return sound


def _pedal_up(at_s: float, times: list[float]) -> float:
    """The pedal is changed with every fourth strike."""
    later = [time_s for time_s in times[::4] if time_s > at_s + 0.05]
    return (later[0] if later else at_s + 2.0) + 0.04


def add(
    sound: np.ndarray,
    from_bank: Bank,
    note: int,
    velocity: int,
    at_s: float,
    held_s: float,
    until_s: float | None = None,
) -> None:
    """A note into a sound; its damper takes some 80 ms."""
    samples = from_bank.note(note, velocity).copy()
    end = round((until_s - at_s if until_s else held_s) * RATE)
    if end < len(samples):
        fall = np.exp(-np.arange(len(samples) - end) / (0.03 * RATE))
        samples[end:] *= fall.astype(np.float32)
    start = round(at_s * RATE)
    length = min(len(samples), len(sound) - start)
    if length > 0 and start >= 0:
        sound[start : start + length] += samples[:length]


def right_hand(
    from_bank: Bank, strikes: list[Strike], condition: Condition, rng: np.random.Generator, loud: float, size: int
) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """A melody from F4 up to C6, with two strikes of three and between others; and which of its keys are due with which strike."""
    also: list[tuple[int, ...]] = [()] * len(strikes)
    sound = np.zeros(size, dtype=np.float32)
    if condition.melody_db is None:
        return sound, also
    note = 70
    for number, strike in enumerate(strikes):
        with_it = rng.random() < 0.6
        if with_it or rng.random() < 0.3:
            note = int(np.clip(note + rng.integers(-4, 5), 65, 84))
            at_s = (
                strike.due.time_s + float(rng.normal(0, 0.015)) + (0.0 if with_it else 0.5 * strike.due.window_s / 0.4)
            )
            came = note
            if condition.melody_slips and rng.random() < condition.melody_slips:
                came = int(np.clip(note + rng.choice((-4, -3, -2, -1, 1, 2, 3, 4)), 65, 84))
            add(sound, from_bank, came, int(rng.uniform(50, 100)), at_s, float(rng.uniform(0.2, 0.6)))
            also[number] = (note,)
            strike.above = came, at_s
    return sound * (loud / max(_rms(sound), 1e-9) * 10.0 ** (condition.melody_db / 20.0)), also


def scale_sound(from_bank: Bank, rng: np.random.Generator, notes: tuple[int, ...] = tuple(range(40, 65))) -> np.ndarray:
    """E2 to E4, each about a second, after a second of silence."""
    sound = np.zeros(int((2.0 + 1.1 * len(notes)) * RATE), dtype=np.float32)
    at_s = 1.0
    for note in notes:
        add(sound, from_bank, note, int(rng.uniform(62, 82)), at_s, float(rng.uniform(0.6, 0.9)))
        at_s += float(rng.uniform(0.85, 1.05))
    return sound


@dataclass(frozen=True, eq=False)
class Place:
    """response: of room and microphone, from a note's onset on."""

    response: np.ndarray

    @classmethod
    def some(cls, condition: Condition, rng: np.random.Generator) -> Place:
        seconds = rng.uniform(*condition.room)
        count = int(min(seconds, 0.8) * RATE)
        tail = rng.normal(0, 1, count) * np.exp(-6.9 * np.arange(count) / (seconds * RATE))
        tail[: int(0.004 * RATE)] = 0.0
        tail = np.convolve(tail, [0.5, 0.35, 0.15])[:count]  # walls take the high
        tail *= np.sqrt(rng.uniform(*condition.wet) / max(float(np.square(tail).sum()), 1e-9))
        for _ in range(5):  # first reflections
            tail[int(rng.uniform(0.002, 0.025) * RATE)] += rng.uniform(-0.35, 0.35)
        tail[0] += 1.0
        return cls(_coloured(tail, rng, condition.laptop))

    def heard(self, dry: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        return _convolved(dry, self.response)


def _coloured(response: np.ndarray, rng: np.random.Generator, laptop: bool) -> np.ndarray:
    """A microphone's own colour: some broad dips and bumps; a laptop's gives little below 150 Hz. Without a delay of its own to speak of (least phase)."""
    size = 1 << 14
    hz = np.fft.rfftfreq(size, 1 / RATE) + 1.0
    db = np.zeros_like(hz)
    for _ in range(4):
        db += rng.uniform(-4, 4) * np.exp(-0.5 * (np.log2(hz / 10 ** rng.uniform(2.0, 3.6)) / 0.5) ** 2)
    if laptop:
        db -= 10.0 * np.log10(1.0 + (150.0 / hz) ** 4) - 5.0 * np.exp(-0.5 * (np.log2(hz / 2500.0) / 0.5) ** 2)
    cepstrum = np.fft.irfft(db * np.log(10) / 20.0, size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.fft.irfft(np.fft.rfft(response, size) * np.exp(np.fft.rfft(cepstrum)), size)[: len(response) + 400]


def noise_of(condition: Condition, size: int, loud: float, rng: np.random.Generator) -> np.ndarray:
    spectrum = np.fft.rfft(rng.normal(0, 1, size))
    hz = np.fft.rfftfreq(size, 1 / RATE)
    noise = np.fft.irfft(spectrum / np.sqrt(np.maximum(hz, 50.0) / 50.0) ** 0.7, size)
    noise *= loud * 10.0 ** (condition.noise_db / 20.0) / _rms(noise, active=False)
    if condition.hum_db is not None:
        at = np.arange(size) / RATE
        hum = sum(np.sin(2 * np.pi * 50.0 * k * at + k) / k for k in range(1, 9))
        noise += hum * loud * 10.0 ** (condition.hum_db / 20.0)
    return noise.astype(np.float32)


def voice(size: int, rng: np.random.Generator) -> np.ndarray:
    """Speech-like: syllables of a gliding buzz through two or three resonances (source and filter), and pauses."""
    sound = np.zeros(size)
    at = 0
    while at < size:
        length = int(rng.uniform(0.12, 0.35) * RATE)
        if rng.random() < 0.75:
            pitch = rng.uniform(95, 220) * (1 + np.linspace(0, rng.uniform(-0.2, 0.2), length))
            phase = np.cumsum(pitch) / RATE
            buzz = sum(np.sin(2 * np.pi * k * phase) / k for k in range(1, 25))
            spectrum, hz = np.fft.rfft(buzz), np.fft.rfftfreq(length, 1 / RATE)
            shape = sum(
                1.0 / (1.0 + ((hz - centre) / 90.0) ** 2)
                for centre in (rng.uniform(300, 800), rng.uniform(900, 2200), 2600)
            )
            syllable = np.fft.irfft(spectrum * shape, length) * np.hanning(length)
            end = min(size, at + length)
            sound[at:end] += syllable[: end - at]
        at += length
    return sound / _rms(sound)


def with_leak(
    sound: np.ndarray, condition: Condition, strikes: list[Strike], beat_s: float, loud: float, rng: np.random.Generator
) -> np.ndarray:
    """Click and bass through a loudspeaker into the microphone, and, where that is asked for, taken out again."""
    played = np.zeros(len(sound), dtype=np.float32)
    first_s = strikes[0].due.time_s % beat_s
    for beat in range(int((len(sound) / RATE - first_s) / beat_s)):
        root = min((strike.due for strike in strikes), key=lambda due: abs(due.time_s - first_s - beat * beat_s)).notes[
            0
        ]
        for one, level in (
            (render("click", int(beat % 4 == 0), RATE), 0.5),
            (render("bass", root - 12 if root > 44 else root, RATE), 0.6),
        ):
            start = round((first_s + beat * beat_s) * RATE)
            length = min(len(one), len(played) - start)
            played[start : start + length] += level * one[:length]
    speaker = replace(condition, laptop=True, room=(0.2, 0.5), wet=(0.3, 0.8))
    path = np.concatenate([np.zeros(int(rng.uniform(0.005, 0.04) * RATE)), Place.some(speaker, rng).response])
    path *= 10.0 ** (condition.leak_db / 20.0) * loud / _rms(_convolved(played, path))
    late = _slower(played, 1.0 - condition.ppm * 1e-6)
    leaked = _convolved(np.pad(late, (0, max(0, len(played) - len(late))))[: len(played)], path)
    heard = (sound + leaked).astype(np.float32)
    if not condition.cancelled:
        return heard
    probe = measuring_noise()
    answer = _convolved(np.pad(probe, (0, RESPONSE)), path)
    echo = Echo(measure(probe, answer + noise_of(condition, len(answer), loud, rng)))
    blocks = range(0, len(heard), 800)
    return np.concatenate([echo.clean(heard[at : at + 800], played[at : at + 800]) for at in blocks])


def levelled(sound: np.ndarray) -> np.ndarray:
    """An automatic level: turns down at once what is loud, and up again within some seconds."""
    size = np.sqrt(np.convolve(np.square(sound), np.ones(800) / 800, mode="same"))[::160] + 1e-6
    gains, gain = [], 1.0
    for one in size:
        wanted = min(8.0, 0.08 / float(one))
        gain += (wanted - gain) * (0.2 if wanted < gain else 0.004)
        gains.append(gain)
    return (sound * np.interp(np.arange(len(sound)), np.arange(len(gains)) * 160, gains)).astype(np.float32)


def _rms(sound: np.ndarray, active: bool = True) -> float:
    """Of what is not silence."""
    power = np.square(np.asarray(sound, dtype=np.float64))
    if active:
        blocks = power[: len(power) // 800 * 800].reshape(-1, 800).mean(axis=1)
        power = blocks[blocks > 1e-3 * blocks.max()]
    return float(np.sqrt(power.mean() + 1e-20))


def _convolved(sound: np.ndarray, response: np.ndarray) -> np.ndarray:
    size = len(sound) + len(response)
    size = 1 << int(np.ceil(np.log2(size)))
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(response, size), size)[: len(sound)].astype(np.float32)


def _slower(sound: np.ndarray, factor: float) -> np.ndarray:
    at = np.arange(int(len(sound) / factor)) * factor
    return np.interp(at, np.arange(len(sound)), sound).astype(np.float32)
