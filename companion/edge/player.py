"""The companion's mouth: says what it is given in order, knows what is sounding, and falls silent at once when told.

One thread owns the sink. `say`, `tone`, `hush`, `hold` and `go_on` only leave word for it and return at once.
"""
from __future__ import annotations

import logging
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, TimeoutError as NotYet
from dataclasses import dataclass, field

import numpy as np

from companion.edge.sound.sinks import Sink
from companion.edge.tones import tone
from companion.edge.voice.base import Voice, limit
from companion.edge.voice.prerender import Piece, Prerender
from companion.errors import BrokenMachine

NEW_VOICE = "The voice has failed. This is another voice."
_BLOCK = 0.02
_REWIND = 0.3
HOLD_S = 5.0
"""So long at most it stays paused: whoever paused it may be gone, and a caution must be said."""
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True)
class Ended:
    """An utterance or tone is over."""

    tag: str
    text: str
    whole: bool
    """Whether its last word sounded; False if it was hushed or could not be played."""
    seconds: float
    """How much of it was played."""
    fault: BrokenMachine | None = None


@dataclass
class _Item:
    text: str
    tag: str
    pieces: list[Piece]
    cut: threading.Event = field(default_factory=threading.Event)
    played: int = 0


class Player:
    """Plays on `sink` what `voice` says.

    `on_end` is called on the player's own thread for each `Ended`, in order; it must be quick (put it in a queue).
    """

    def __init__(self, voice: Voice, sink: Sink, on_end: Callable[[Ended], None] = lambda ended: None,
                 headset: bool = False) -> None:
        self._sink, self._on_end = sink, on_end
        self._render = Prerender(voice, sink.rate)
        self._voice_name = voice.name
        self._gain, self._headset = 1.0, headset
        self._alarming = False
        self._line: deque[_Item] = deque()
        self._now: _Item | None = None
        self._change = threading.Condition()
        self._free = threading.Event()
        self._free.set()
        self._thread: threading.Thread | None = None
        self._open = True

    def say(self, text: str, tag: str = "", pace: str = "prose") -> None:
        """Speaks `text` after what is already waiting."""
        self._add(_Item(text, tag, self._render.pieces(text, pace)), first=False)

    def tone(self, kind: str) -> None:
        """Sounds a tone of `tones.TONES`, before anything that is waiting; "memo" after it, for it says: speak now.

        From an alarm until all is said, nothing pauses it.
        """
        if kind.startswith("alarm"):
            self._alarming = True
            self.go_on()
        self._add(self._tone_item(kind), first=kind != "memo")

    def set_voice(self, speed: float, loudness: float) -> None:
        """How fast what is asked for from now on is spoken (1: as the voice was made), and how loud (dB) all is played."""
        self._render.speed = speed
        self._gain = 10 ** (loudness / 20)

    def prepare(self, text: str, pace: str = "prose") -> None:
        """Renders in spare time what will probably be said."""
        self._render.prepare(text, pace)

    def hush(self) -> None:
        """Silence within 100 ms, and what the device still holds; what was waiting is dropped. Each dropped utterance is
        reported as not whole."""
        self._alarming = False
        with self._change:
            for item in (self._now, *self._line):
                if item:
                    item.cut.set()
        self._render.postpone()
        self.go_on()

    def hold(self) -> None:
        """Pauses within 100 ms, and what the device still holds, for `HOLD_S` at most; nothing is dropped."""
        if not self._alarming:
            self._free.clear()

    def go_on(self) -> None:
        """Goes on after `hold`, a little before where it paused, but always further on than before."""
        self._free.set()

    @property
    def sounding(self) -> tuple[str, float] | None:
        """The text being spoken and how many seconds of it have been played, or None."""
        item = self._now
        return (item.text, item.played / self._sink.rate) if item else None

    @property
    def idle(self) -> bool:
        """Whether nothing sounds and nothing waits."""
        with self._change:
            return not self._now and not self._line

    def wait(self, seconds: float | None = None) -> bool:
        """Waits until idle; False if that took longer than `seconds`."""
        with self._change:
            return self._change.wait_for(lambda: not self._now and not self._line, seconds)

    def say_now(self, text: str, pace: str = "prose") -> float:
        """Speaks on the caller's thread and returns how many seconds it lasts; for a simulated clock.

        Not to be mixed with `say` on one player. Raises BrokenMachine if voice or sink fails.
        """
        return self._play_now(_Item(text, "", self._render.pieces(text, pace)))

    def tone_now(self, kind: str) -> float:
        """Sounds a tone as `say_now` speaks."""
        return self._play_now(self._tone_item(kind))

    def close(self) -> None:
        """Silence, and the end of the thread, the renderer and the sink."""
        self.hush()
        with self._change:
            self._open = False
            self._change.notify_all()
        if self._thread and self._thread is not threading.current_thread():
            self._thread.join()
        self._render.close()
        self._sink.close()

    def _tone_item(self, kind: str) -> _Item:
        sound: Future[np.ndarray] = Future()
        sound.set_result(tone(kind, self._sink.rate, self._headset))
        return _Item("", kind, [Piece(0.0, sound)])

    def _add(self, item: _Item, first: bool) -> None:
        with self._change:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="player", daemon=True)
                self._thread.start()
            self._line.appendleft(item) if first else self._line.append(item)
            self._change.notify_all()

    def _run(self) -> None:
        while True:
            with self._change:
                if self._now is not None and self._now.text and not self._line:
                    self._alarming = False
                self._now = None
                self._change.notify_all()
                self._change.wait_for(lambda: self._line or not self._open)
                if not self._line:
                    return
                self._now = item = self._line.popleft()
            self._report(item, self._try(item))

    def _try(self, item: _Item) -> BrokenMachine | None:
        try:
            self._play(item)
        except BrokenMachine as fault:
            return fault
        except Exception as fault:  # the thread that speaks must outlive whatever a device does
            _LOG.exception("while saying %r", item.text)
            return BrokenMachine("loudspeaker", "must play", repr(fault))
        return None

    def _report(self, item: _Item, fault: BrokenMachine | None) -> None:
        whole = fault is None and not item.cut.is_set()
        try:
            self._on_end(Ended(item.tag, item.text, whole, item.played / self._sink.rate, fault))
        except Exception:  # a listener's fault must not make the companion dumb
            _LOG.exception("after %r", item.text)

    def _play_now(self, item: _Item) -> float:
        self._play(item)
        return item.played / self._sink.rate

    def _play(self, item: _Item) -> None:
        for piece in item.pieces:
            sound = self._await(piece.sound, item)
            if self._render.voice.name != self._voice_name:
                self._announce(item)
            self._play_sound(np.zeros(int(piece.pause * self._sink.rate), np.float32), item)
            self._play_sound(sound, item)
        self._sink.drain(item.cut.is_set)
        if item.cut.is_set():
            self._sink.drop()

    def _announce(self, item: _Item) -> None:
        """Says that another voice speaks from now on; a change is never silent."""
        self._voice_name = self._render.voice.name
        for piece in self._render.pieces(NEW_VOICE):
            self._play_sound(self._await(piece.sound, item), item)

    def _await(self, piece: Future, item: _Item) -> np.ndarray:  # type: ignore[type-arg]
        while not item.cut.is_set():
            try:
                return piece.result(_BLOCK)
            except NotYet:
                continue
        return np.zeros(0, np.float32)

    def _play_sound(self, sound: np.ndarray, item: _Item) -> None:
        block, at, went_on = int(_BLOCK * self._sink.rate), 0, 0
        quietest, loudest = (0.0 if item.text else 1.0), (1.0 if self._headset and not item.text else np.inf)
        gain = min(max(quietest, self._gain), loudest)  # for words; a tone is never quieter, and in a headset never louder
        if gain != 1:
            sound = limit(sound * np.float32(gain))
        while at < len(sound) and not item.cut.is_set():
            if not self._free.is_set():
                unheard = self._sink.drop()
                since = max(0, at - unheard - went_on)
                back = min(at, unheard + min(int(_REWIND * self._sink.rate), since // 2))
                at, item.played = at - back, item.played - back
                went_on = at
                if not self._free.wait(HOLD_S):
                    self.go_on()
                continue
            self._sink.write(sound[at:at + block])
            item.played += len(sound[at:at + block])
            at += block
