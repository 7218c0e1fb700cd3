"""PortAudio: its library, a device's own rate, a running stream. `sounddevice` is imported only when one is opened."""
from __future__ import annotations

from companion.edge.sound.loudspeaker import Loudspeaker
from companion.errors import BrokenMachine

_KINDS = {"loudspeaker": "output", "microphone": "input"}
LATENCIES = {"loudspeaker": (0.05, 0.12, 0.24), "microphone": (0.03,)}
"""Seconds a device may hold. Less is heard sooner and stopped sooner; more does not starve where the machine is busy. Measured
on PulseAudio, two cores, load 9: 0.05 and 0.08 starved (396 and 1,554 times in 10 s), 0.12 and 0.2 never."""
_TYPED = "Without sound, run the job with --typed"


class SpeakerSink(Loudspeaker):
    """A loudspeaker alone, for a program that only speaks. Raises BrokenMachine where there is none."""

    def __init__(self, device: int | str | None = None) -> None:
        super().__init__()
        sounds = library()
        rate = own_rate(sounds, device, "loudspeaker")
        self.connect(rate)
        self._stream = open_stream(sounds, "loudspeaker", device, rate, self.copy)
        self.latency = self._stream.latency

    def close(self) -> None:
        """See `Sink`."""
        self._stream.close()


def library():  # type: ignore[no-untyped-def]
    """The module `sounddevice`. Raises BrokenMachine where PortAudio is missing."""
    try:
        import sounddevice

        return sounddevice
    except (ImportError, OSError) as fault:
        raise BrokenMachine("sound", "PortAudio must be installed for the loudspeaker and the microphone",
                            str(fault), f"On Linux: apt-get install libportaudio2. {_TYPED}") from fault


def own_rate(sounds, device: int | str | None, part: str) -> int:  # type: ignore[no-untyped-def]
    """Samples a second that the device itself runs at. `part` is microphone or loudspeaker. Raises BrokenMachine."""
    try:
        return round(sounds.query_devices(device, _KINDS[part])["default_samplerate"])
    except (sounds.PortAudioError, ValueError) as fault:
        raise _missing(part, fault) from fault


def is_headset(sounds) -> bool:  # type: ignore[no-untyped-def]
    """Whether the system's own loudspeaker calls itself one; a sound server in between often hides the name."""
    try:
        name = str(sounds.query_devices(None, "output")["name"]).lower()
    except (sounds.PortAudioError, ValueError):
        return False
    return any(word in name for word in ("headset", "headphone", "earphone", "earbud", "hands-free"))


def open_stream(sounds, part: str, device: int | str | None, rate: int, callback, wider: int = 0):  # type: ignore[no-untyped-def]
    """A running stream of one channel or, where the device has no such thing, two. Raises BrokenMachine.

    `callback` is the `copy` of a `Loudspeaker` or `Microphone`; `wider` picks one of the part's `LATENCIES`.
    """
    kind = sounds.OutputStream if part == "loudspeaker" else sounds.InputStream
    for channels in (1, 2):
        try:
            return _started(kind(device=device, samplerate=rate, channels=channels, dtype="float32",
                                 blocksize=_block(part, rate), latency=LATENCIES[part][wider], callback=callback))
        except Exception as fault:  # PortAudioError, or ValueError for a device that cannot do this
            reason = fault
    raise _missing(part, reason)


def _block(part: str, rate: int) -> int:
    """Samples in a callback's block; 0 leaves it to PortAudio, which gave a microphone blocks of 2 ms: 441 calls a second.

    Blocks of 20 ms took 3 % less of a core than of 10 ms, and the answer came no later (two-core machine, November 2026)."""
    return rate // 50 if part == "microphone" else 0


def _started(stream):  # type: ignore[no-untyped-def]
    try:
        stream.start()
    except BaseException:
        stream.close(ignore_errors=True)  # else it would keep the device from the next one
        raise
    return stream


def _missing(part: str, fault: Exception) -> BrokenMachine:
    return BrokenMachine(part, "a device must be there", str(fault),
                         f"Connect one and check the system's sound settings. {_TYPED}")
