"""Whether the ear can hear in this room: noise, speech, the distance between them, clipping, and what to do about it.

Levels are A-weighted (the curve of IEC 61672-1, from memory): the rumble of an engine fills a microphone without hiding
speech. They are in dB below full scale, a root mean square of 1; how loud that is in the room no microphone tells.
"""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from companion.edge.ear.base import RATE

QUIET_S, SPOKEN_S = 2.0, 4.0
"""Seconds of silence and of speech that are taken."""
TRIES = 3
KEEP_QUIET = "Keep quiet for two seconds."
COUNT = "Now say: one, two, three, four."

LEAST_RATIO = 12.0
"""Speech above noise, dB, below which the room is noisy.

Measured with the embedded ear and recorded noises: at 15 dB 60 of 60 recorded commands and 50 of 50 rendered values
were heard right, at 10 dB 59 and 47, at 5 dB 57 and 35 (one value wrong and accepted), at 0 dB 52 commands (one wrong).
The check itself reads such ratios right within 1 dB down to 10 dB, and about 2 dB high at 5 dB (four voices; white,
pink and engine-like noise).
"""
FAINTEST = -70.0
"""Speech, dBFS. Measured, 16 bits and no other noise: at -70 dBFS 20 of 20 commands right, at -75 17, at -80 5."""
FAINT = -50.0
"""Below it a bad ratio is put down to the voice, not to the room: own choice."""
MOST_CLIPPED = 10.0
"""Percent of the spoken samples: own choice. Measured, without noise: with 40 % at full scale still 20 of 20 commands
right. It is the echo canceller that cannot undo what is bent, and noise that is then heard louder."""
_DEAD, _AS_LOUD_AS_SPEECH = -85.0, -40.0

_FRAME_S = 0.05
_LEAST_SPOKEN_S = 0.4
_ABOVE = 2.0
_WITHIN = 10 ** -2.5
_FULL = 0.95
_SILENCE = 1e-12

ADVICE = {
    "good": ("I hear you well.",),
    "noisy": ("It is loud here.", "Wear the headset, with its microphone near your mouth."),
    "faint": ("You sound faint.", "Bring the microphone nearer to your mouth."),
    "clipped": ("Your voice is too strong for the microphone.", "Turn the microphone down."),
    "muted": ("No sound comes from the microphone.", "Is it muted, or is it the wrong one?"),
    "nobody spoke": ("I heard no words.", "Is the microphone muted, or is it the wrong one?"),
}
"""Verdict: what is said about it, two short sentences at the most."""
OVER_NOISE = ("I heard no words over the noise.", "Wear the headset, with its microphone near your mouth.")
"""In place of the advice for "nobody spoke" where the noise is as strong as speech would be."""

HEADSET = """\
Which headset: wireless, its microphone a few centimetres from the mouth, and of the kind that lets outside sound
through. Why: at one metre a normal voice has 60 dB(A), a raised one 66, a loud one 72, and an idling diesel 70 to 80.
Near the mouth a microphone gets about 20 dB more of you and no more of the engine. Warnings, the engine and people must
still be heard: never shut both ears. Where you would have to shout, the noise may harm your hearing: wear protection
that a headset goes with. Take the headset off on the road."""
"""Voices: ISO 9921:2003, seen second-hand. Diesel: from memory, no source. 20 dB: 1 m to 0.1 m by the inverse distance
law. That a danger signal must stay audible: ISO 7731:2003, seen in a national version. Hearing: a raised voice at 2 m
is the health and safety regulator's cue for too much noise, seen."""


@dataclass(frozen=True)
class Room:
    """What was measured; the fields are those of the input `RoomHeard`."""

    verdict: str
    """A key of `ADVICE`: good, noisy, faint, clipped, muted or nobody spoke."""
    noise_db: Decimal
    """dBFS, A-weighted, the mean power of the quiet seconds; −120 for none at all."""
    speech_db: Decimal | None = None
    """dBFS, A-weighted, of the parts that are speech, the noise taken off; None where nobody spoke."""
    ratio_db: Decimal | None = None
    """Speech above noise, dB."""
    clipped: Decimal = Decimal(0)
    """Percent of the spoken samples at full scale; of all samples where nobody spoke."""
    advice: tuple[str, ...] = ()
    """To be said."""


def measure(quiet: np.ndarray, speech: np.ndarray | None, rate: int = RATE) -> Room:
    """Judge a room by a second or two of its noise and a few of somebody speaking; float32 mono, −1 to 1.

    Speech is what rises 3 dB above 95 % of the quiet frames (50 ms each) and lies within 25 dB of the loudest, a plain
    form of ITU-T P.56; 0.4 s of it must be there. `speech` None counts as nobody speaking.
    """
    speech = np.zeros(0, np.float32) if speech is None else speech
    quiet_powers, spoken_powers = powers(quiet, rate), powers(speech, rate)
    noise = max(float(quiet_powers.mean()), _SILENCE)
    least = _ABOVE * np.quantile(quiet_powers, 0.95) + _SILENCE
    spoken = spoken_powers[(spoken_powers > least) & (spoken_powers >= spoken_powers.max() * _WITHIN)]
    full = int((np.abs(speech) >= _FULL).sum())
    if len(spoken) * _FRAME_S < _LEAST_SPOKEN_S:
        return _unheard(noise, float(spoken_powers.mean()), 100 * full / max(len(speech), 1))
    level = max(float(spoken.mean()) - noise, _SILENCE)
    clipped = min(100.0, 100 * full / (len(spoken) * _FRAME_S * rate))
    return _room(_verdict(_db(level), _db(level / noise), clipped), noise, level, clipped)


def room_check(say: Callable[[str], None], hear: Callable[[float], np.ndarray]) -> Room:
    """A conversation that ends with a verdict; where nobody is heard it is held again, three times at the most.

    `say` speaks and returns when the last word has sounded; `hear` gives the next so many seconds of the microphone at
    16 kHz. What they raise goes through.
    """
    for _ in range(TRIES):
        say(KEEP_QUIET)
        quiet = hear(QUIET_S)
        say(COUNT)
        room = measure(quiet, hear(SPOKEN_S))
        say(" ".join(room.advice))
        if room.speech_db is not None:
            break
    return room


def printed(room: Room) -> str:
    """The figures and, where a headset helps, which one and why: to be read, not to be heard."""
    spoken = "no speech"
    if room.speech_db is not None:
        spoken = f"speech {room.speech_db} dB, {room.ratio_db} dB above the noise, {room.clipped} % at full scale"
    lines = [f"Room: {room.verdict}. Noise {room.noise_db} dB, {spoken}."]
    if room.advice in (ADVICE["noisy"], ADVICE["faint"], OVER_NOISE):
        lines.append(HEADSET)
    return "\n".join(lines)


def _verdict(speech_db: float, ratio_db: float, clipped: float) -> str:
    if clipped > MOST_CLIPPED:
        return "clipped"
    if speech_db < FAINTEST:
        return "faint"
    if ratio_db < LEAST_RATIO:
        return "faint" if speech_db < FAINT else "noisy"
    return "good"


def _unheard(noise: float, power: float, clipped: float) -> Room:
    if max(noise, power) < 10 ** (_DEAD / 10):
        return _room("muted", noise, None, clipped)
    loud = noise > 10 ** (_AS_LOUD_AS_SPEECH / 10)
    return _room("nobody spoke", noise, None, clipped, OVER_NOISE if loud else ADVICE["nobody spoke"])


def _room(verdict: str, noise: float, level: float | None, clipped: float, advice: tuple[str, ...] = ()) -> Room:
    speech_db, ratio_db = (None, None) if level is None else (_tenths(_db(level)), _tenths(_db(level / noise)))
    return Room(verdict, _tenths(_db(noise)), speech_db, ratio_db, _tenths(clipped), advice or ADVICE[verdict])


def powers(samples: np.ndarray, rate: int) -> np.ndarray:
    """Mean squares of frames of 50 ms, A-weighted; one of 0 for no sound."""
    frame = int(_FRAME_S * rate)
    sound = _weighted(np.asarray(samples, np.float64), rate)
    whole = len(sound) // frame * frame
    return np.square(sound[:whole].reshape(-1, frame)).mean(1) if whole else np.zeros(1)


def _weighted(samples: np.ndarray, rate: int) -> np.ndarray:
    if not len(samples):
        return samples
    return np.fft.irfft(np.fft.rfft(samples) * weight(np.fft.rfftfreq(len(samples), 1 / rate)), len(samples))


def weight(hertz: np.ndarray) -> np.ndarray:
    """The A-weighting as a factor, 1 at 1000 Hz: IEC 61672-1, from memory."""
    square = np.square(hertz)
    return 10 ** 0.1 * 12194 ** 2 * square ** 2 / (
        (square + 20.6 ** 2) * np.sqrt((square + 107.7 ** 2) * (square + 737.9 ** 2)) * (square + 12194 ** 2))


def _db(power: float) -> float:
    return float(10 * np.log10(power))


def _tenths(number: float) -> Decimal:
    return Decimal(f"{number:.1f}")
