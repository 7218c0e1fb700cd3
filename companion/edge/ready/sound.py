"""PortAudio, the microphone, the loudspeaker, and what the one hears of the other."""
from __future__ import annotations

from collections.abc import Callable

import numpy as np

from companion.edge.ear.endpoint import Endpoint
from companion.edge.live.echo import LEARNING_S, Canceller
from companion.edge.ready.duplex import Duplex, Hearing, device_name
from companion.edge.ready.finding import Finding, fine, missing, to_do, weak
from companion.edge.room import MOST_CLIPPED, measure
from companion.edge.sound import EAR_RATE, Frame, Sink
from companion.edge.sound.portaudio import library
from companion.edge.tones import tone
from companion.errors import BrokenMachine

LISTEN_S = 1.5
PHRASE = "This is a test. Please keep quiet while I speak. The microphone listens to the loudspeaker now."
DEAD_DB = -85
"""No real microphone is so quiet: own choice, 16 dB above the rounding of 16-bit sound (-101 dBFS)."""
LOUD_DB = -40
"""Noise as strong as a voice through most microphones, dBFS: own choice."""
_OVER_DB = 3.0
Clean = Callable[[np.ndarray, np.ndarray], np.ndarray]
"""Takes what was heard and what was played; gives the first without the second."""
_LEAST = 10 ** (DEAD_DB / 10)


def portaudio() -> Finding:
    """Is the library there that reaches the sound devices?"""
    try:
        sounds = library()
    except BrokenMachine as fault:
        return missing(f"PortAudio is not there: {fault.found}.", to_do("portaudio"))
    count = len(sounds.query_devices())
    version = sounds.get_portaudio_version()[1].split(",")[0]
    return fine(f"{version}, {count} device{'s' * (count != 1)}.", version=version, devices=count)


def microphone(opened: Callable[[], Hearing], name: Callable[[str], str] = device_name) -> Finding:
    """Does it open, and is what it gives sound?"""
    try:
        called, hearing = name("input"), opened()
        try:
            sound = hearing.hear(LISTEN_S)
        finally:
            hearing.close()
    except BrokenMachine as fault:
        return missing(f"No microphone: {fault.found or fault}.", to_do("microphone"))
    return judge_microphone(sound, called)


def judge_microphone(sound: np.ndarray, name: str) -> Finding:
    """A microphone by some seconds in which nobody was asked to speak."""
    found = measure(sound, sound)
    noise = measure(sound, None)
    figures = {"device": name, "noise_db": float(noise.noise_db), "clipped_percent": float(found.clipped)}
    if noise.noise_db < DEAD_DB:
        return missing(f"{name} opens, but gives plain silence.", to_do("muted"), **figures)
    if found.clipped > MOST_CLIPPED:
        return weak(f"{name} is overdriven: {found.clipped} % at full scale.", to_do("quieter microphone"), **figures)
    heard = f"{name} gives sound; noise {noise.noise_db} dB."
    return weak(heard, to_do("room"), **figures) if noise.noise_db > LOUD_DB else fine(heard, **figures)


def loudspeaker(opened: Callable[[], Sink], name: Callable[[str], str] = device_name) -> Finding:
    """Does it open, and take sound?"""
    try:
        called, sink = name("output"), opened()
        try:
            sink.write(tone("heard", sink.rate))
            sink.drain(lambda: False)
        finally:
            sink.close()
    except BrokenMachine as fault:
        return missing(f"No loudspeaker: {fault.found or fault}.", to_do("loudspeaker"))
    return fine(f"{called} took a short tone.", to_do("heard nothing"), device=called)


def echo(duplex: Duplex) -> Finding:
    """Does the canceller leave the companion's own speech quiet enough that it does not hear itself?"""
    duplex.hear(0.5)  # a device that was just opened may click, and the tone of the last check may still be in the air
    noise = duplex.hear(0.5)
    heard = duplex.say(PHRASE)
    try:
        canceller = Canceller()
    except ImportError as fault:
        return missing(f"The echo canceller is not there: {fault}.", to_do("canceller"))
    return judge_echo(noise, heard, canceller.clean)


def judge_echo(noise: np.ndarray, frames: list[Frame], clean: Clean) -> Finding:
    """`noise` was heard in silence, `frames` while the companion spoke; `clean` takes the second out of the first."""
    heard = np.concatenate([frame.heard for frame in frames])
    played = np.concatenate([frame.played for frame in frames])
    left = clean(heard, played)
    learnt = int(np.argmax(np.abs(played) > 1e-3)) + int(LEARNING_S * EAR_RATE)
    over, lost = _ratio(heard[learnt:], noise), _ratio(heard[learnt:], left[learnt:])
    shifts = sum(frame.shifted for frame in frames[1:])
    figures = {"echo_over_noise_db": round(over, 1), "taken_out_db": round(lost, 1), "shifts": shifts}
    if over < _OVER_DB:
        return fine("The microphone does not hear the loudspeaker.", to_do("heard nothing"), **figures)
    found = f"The loudspeaker is heard {over:.0f} dB above the noise; {lost:.0f} dB of it are taken out"
    if _speech_in(left[learnt:]):
        found += f", and the rest is taken for somebody speaking. Lost sound: {shifts} times."
        return weak(found, to_do("slow" if shifts else "echo"), **figures)
    return fine(f"{found}.", **figures)


def _speech_in(sound: np.ndarray) -> bool:
    """Whether the pause detector would hear somebody, and so silence the companion."""
    endpoint = Endpoint()
    return any(True for _ in endpoint.feed(sound)) or endpoint.speaking


def _ratio(one: np.ndarray, other: np.ndarray) -> float:
    """The mean power of one sound above another's, dB."""
    powers = [max(float(np.square(sound, dtype=np.float64).mean()), _LEAST) for sound in (one, other)]
    return float(10 * np.log10(powers[0] / powers[1]))
