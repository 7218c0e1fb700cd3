"""The player: order, endings, silence at once, pausing, tones, and a file where everything stands at its second."""
from __future__ import annotations

import queue
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.edge.player import NEW_VOICE, Ended, Player
from companion.edge.sound import FileSink, NullSink
from companion.edge.tones import LOUD_DB, TONES, tone
from companion.edge.voice import RATE
from companion.edge.voice.builtin import BuiltinVoice
from companion.edge.voice import SteadyVoice
from companion.edge.voice.system import SystemVoice
from companion.errors import BadInput, BrokenMachine

LONG = "Keep hands and face out of line of the joint while it is cracked."


class Timeline:
    """A file that plays on a clock of its own: time passes only while the player waits for sound to be heard."""

    def __init__(self, path: Path, at: float = 1e9, act: Callable[[], None] = lambda: None) -> None:
        self.path, self.second, self._at, self._act = path, 0.0, at, act
        self.sink = FileSink(path, RATE, lambda: self.second, self._pass)

    def _pass(self, seconds: float) -> None:
        self.second += seconds
        if self.second >= self._at:
            self._at = 1e9
            self._act()

    def sounding(self) -> np.ndarray:
        """The seconds at which the file sounds (10 ms frames above −50 dBFS)."""
        samples, rate = soundfile.read(self.path, dtype="float32")
        frames = np.abs(samples[:len(samples) // 240 * 240].reshape(-1, 240)).max(1)
        return np.flatnonzero(frames > 0.003) * 240 / rate


def test_speech_is_played_in_order_and_each_end_is_told() -> None:
    """Three utterances end in the order they were asked for, whole, with the length of their own sound."""
    ends: queue.Queue[Ended] = queue.Queue()
    player = Player(BuiltinVoice(), NullSink(), ends.put)
    texts = ["Next.", "Twenty five newton metres.", LONG]
    for number, text in enumerate(texts):
        player.say(text, str(number), "number")
    told = [ends.get(timeout=20) for _ in texts]
    assert [(end.tag, end.text, end.whole) for end in told] == [(str(i), text, True) for i, text in enumerate(texts)]
    lengths = [len(BuiltinVoice().render(text, "number")) / RATE for text in texts]
    assert [end.seconds for end in told] == pytest.approx(lengths)
    assert player.wait(5) and player.idle and player.sounding is None
    player.close()


def test_hush_is_silence_within_a_tenth_of_a_second(tmp_path: Path) -> None:
    """Told at 0.5 s, the sound ends before 0.6 s, what waited is dropped, both endings say so; speech goes on after."""
    ends: queue.Queue[Ended] = queue.Queue()
    line = Timeline(tmp_path / "out.wav", 0.5, lambda: player.hush())
    player = Player(BuiltinVoice(), line.sink, ends.put)
    player.hold()
    player.say(LONG, "one")
    player.say("Next.", "two")
    player.go_on()
    told = [ends.get(timeout=20), ends.get(timeout=20)]
    assert [(end.tag, end.whole) for end in told] == [("one", False), ("two", False)]
    assert 0.4 < told[0].seconds < 0.6 and told[1].seconds == 0
    assert 0.4 < line.sounding().max() < 0.6
    player.say("Next.", "three")
    assert ends.get(timeout=20).whole
    player.close()


def test_a_pause_goes_on_a_little_before_where_it_stopped(tmp_path: Path) -> None:
    """Held at 0.8 s, the player is silent until told; then the rest is heard, with some 0.3 s of it twice."""
    held = threading.Event()

    def hold() -> None:
        player.hold()
        held.set()

    ends: queue.Queue[Ended] = queue.Queue()
    line = Timeline(tmp_path / "out.wav", 0.8, hold)
    player = Player(BuiltinVoice(), line.sink, ends.put)
    player.say(LONG, "one")
    assert held.wait(20) and ends.empty()
    line.second += 2
    player.go_on()
    end, whole = ends.get(timeout=20), len(BuiltinVoice().render(LONG)) / RATE
    assert end.whole and end.seconds == pytest.approx(whole)
    heard = line.sounding()
    assert not np.any((heard > 0.95) & (heard < 2.7))
    assert line.second == pytest.approx(whole + 2 + 0.3, abs=0.1)
    player.close()


def test_hush_ends_a_pause_too() -> None:
    """Nothing stays stuck when the job falls silent while it is held."""
    ends: queue.Queue[Ended] = queue.Queue()
    player = Player(BuiltinVoice(), NullSink(), ends.put)
    player.hold()
    player.say(LONG)
    player.hush()
    assert not ends.get(timeout=20).whole
    player.say("Next.")
    assert ends.get(timeout=20).whole
    player.close()


def test_on_a_simulated_clock_speech_stands_where_it_was_spoken(tmp_path: Path) -> None:
    """The file has each line at its own second, silence between, and runs to the end of the job."""
    line = Timeline(tmp_path / "out.wav")
    line.sink = FileSink(line.path, RATE, lambda: line.second, lambda seconds: None)
    player = Player(BuiltinVoice(), line.sink)
    spoken = []
    for second in (0.0, 5.0, 180.0):
        line.second = second
        seconds = player.tone_now("heard") + player.say_now("Next.")
        spoken.append((second, second + seconds))
    line.second = 200.0
    player.close()
    assert soundfile.info(line.path).duration == pytest.approx(200)
    heard = line.sounding()
    for start, end in spoken:
        assert np.any((heard >= start) & (heard < start + 0.05)) and np.any((heard > end - 0.2) & (heard < end))
    assert all(any(start <= second <= end for start, end in spoken) for second in heard)


def test_a_tone_goes_before_waiting_speech() -> None:
    """"Heard" is told at once: a tone is played before the words that wait."""
    ends: queue.Queue[Ended] = queue.Queue()
    player = Player(BuiltinVoice(), NullSink(), ends.put)
    player.hold()
    player.say(LONG, "first")
    player.say("Next.", "second")
    player.tone("heard")
    player.go_on()
    order = [ends.get(timeout=20).tag for _ in range(3)]
    assert order in (["first", "heard", "second"], ["heard", "first", "second"])
    player.close()


@pytest.mark.parametrize("kind", TONES)
@pytest.mark.parametrize("rate", [8_000, 44_100])
def test_each_tone_is_short_and_clean(kind: str, rate: int) -> None:
    """Edges at zero, peaks at −12 dBFS or less, 1.3 s at most, main energy 500 to 2500 Hz (ISO 7731, second-hand). The alarm for
    a mechanic who does not answer is louder and longer at each level; in a headset only longer."""
    sound = tone(kind, rate)
    power = np.square(np.abs(np.fft.rfft(sound)))
    band = np.fft.rfftfreq(len(sound), 1 / rate)
    assert sound[0] == 0 and abs(sound[-1]) < 0.01
    rising = kind in ("alarm 1", "alarm 2", "alarm 3")
    assert np.abs(sound).max() <= 10 ** (LOUD_DB.get(kind, -12) / 20) + 1e-4 and len(sound) / rate <= (3.61 if rising else 1.3)
    assert np.abs(tone(kind, rate, headset=True)).max() <= 0.2512
    assert power[(band >= 500) & (band <= 2500)].sum() > 0.9 * power.sum()


@pytest.mark.parametrize("headset", [False, True])
def test_louder_words_make_no_tone_louder_in_a_headset(headset: bool) -> None:
    """−12 dBFS is the most there, however loud the words are wanted."""
    heard: list[np.ndarray] = []
    sink = NullSink()
    sink.write = heard.append  # type: ignore[method-assign]
    player = Player(BuiltinVoice(), sink, headset=headset)
    player.set_voice(1, 12)
    player.tone_now("alarm 3")
    assert (np.abs(np.concatenate(heard)).max() <= 0.2512) == headset


def test_the_tones_differ() -> None:
    """No two kinds have the same shape; another kind is refused."""
    assert len(set(TONES.values())) == len(TONES)
    with pytest.raises(BadInput, match="heard"):
        tone("hm", RATE)


def test_a_change_of_voice_is_said_before_the_next_words() -> None:
    """A system voice that fails is not replaced in silence: the built-in one says so, once."""
    script = "import sys; print('{\"voice\": \"x\"}', flush=True); sys.stdin.readline()"
    voice = SteadyVoice(SystemVoice(command=[sys.executable, "-c", script]), (BuiltinVoice,))
    player, plain = Player(voice, NullSink()), BuiltinVoice()
    first, second = player.say_now("Next."), player.say_now("Next.")
    assert second == pytest.approx(len(plain.render("Next.")) / RATE)
    announced = sum(len(plain.render(part)) for part in NEW_VOICE.split(". ")) / RATE
    assert first == pytest.approx(second + announced, abs=0.4)
    player.close()


def test_a_sink_that_fails_is_told_and_does_not_make_the_player_dumb(tmp_path: Path) -> None:
    """The ending carries the fault; what is said next is tried again. On a simulated clock it is raised."""
    ends: queue.Queue[Ended] = queue.Queue()
    sink = FileSink(tmp_path / "out.wav", RATE, lambda: 0.0, lambda seconds: None)
    sink.close()
    player = Player(BuiltinVoice(), sink, ends.put)
    for _ in range(2):
        player.say("Next.")
        end = ends.get(timeout=20)
        assert not end.whole and isinstance(end.fault, BrokenMachine)
    with pytest.raises(BrokenMachine, match="out.wav"):
        player.say_now("Next.")


def test_a_listener_that_fails_does_not_stop_the_speech() -> None:
    """The thread that speaks outlives a fault in whoever hears of endings."""
    ends: queue.Queue[Ended] = queue.Queue()

    def listen(end: Ended) -> None:
        ends.put(end)
        raise RuntimeError("on purpose")

    player = Player(BuiltinVoice(), NullSink(), listen)
    for _ in range(2):
        player.say("Next.")
        assert ends.get(timeout=20).whole
    player.close()


class Pausing(NullSink):
    """A sink at which somebody pauses the player after every tenth block, and then goes away."""

    def __init__(self) -> None:
        super().__init__()
        self.player: Player | None = None
        self.blocks = 0

    def write(self, samples: np.ndarray) -> None:
        """See `Sink`."""
        super().write(samples)
        self.blocks += 1
        if self.player is not None and self.blocks % 10 == 0:
            self.player.hold()


def test_a_pause_that_nobody_ends_ends_by_itself_and_speech_gets_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever paused it may be gone; and pauses every 0.2 s, with 0.3 s said again after each, still come to an end."""
    monkeypatch.setattr("companion.edge.player.HOLD_S", 0.01)
    ends: queue.Queue[Ended] = queue.Queue()
    sink = Pausing()
    player = sink.player = Player(BuiltinVoice(), sink, ends.put)
    player.say(LONG, "caution:line")
    assert ends.get(timeout=20).whole
    player.close()
    assert sink.written < 3 * len(BuiltinVoice().render(LONG))


def test_nothing_pauses_an_alarm() -> None:
    """From the alarm's tone until its words are out it is not held; after that it can be again."""
    ends: queue.Queue[Ended] = queue.Queue()
    sink = Pausing()
    player = sink.player = Player(BuiltinVoice(), sink, ends.put)
    player.tone("alarm")
    player.say("Stop the engine now.", "", "prose")
    assert [ends.get(timeout=20).whole for _ in range(2)] == [True, True] and player.wait(5)
    player.hold()
    assert not player._free.is_set()
    player.close()


def test_a_memo_tone_comes_after_the_words() -> None:
    """It says: speak now. Other tones come first."""
    ends: queue.Queue[Ended] = queue.Queue()
    player = Player(BuiltinVoice(), NullSink(), ends.put)
    for _ in range(3):
        player.tone("heard")
    player.say("Speak after the tone.", "words")
    player.tone("memo")
    assert [ends.get(timeout=20).tag for _ in range(5)][-2:] == ["words", "memo"]
    player.close()
