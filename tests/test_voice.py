"""The companion's voices: safe words, level and pace of the sound, and what happens when a system's voice fails."""
from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from companion.edge.voice import RATE, Voice, load_voice, mechanic_voice
from companion.edge.voice.base import active_level, finish, pauses
from companion.edge.voice.builtin import BuiltinVoice
from companion.edge.voice.prerender import Prerender
from companion.edge.voice import SteadyVoice
from companion.edge.voice.system import SystemVoice
from companion.edge.voice.wording import for_voice, sentences
from companion.errors import BadInput, BrokenMachine
from companion.trade.units import UNITS
from parts_needed import needs

PARAGRAPHS = (
    "Take the key out and keep it with you. Wait until the controller has gone to sleep, then prove that the pressure "
    "has gone before a union is opened. Keep hands and face out of line of the joint while it is cracked, and cap both "
    "ends at once so that no dirt can get in. Say done when every cap is on.",
    "Count every tool, cap, plug and rag out of the engine bay. Start the engine and let it idle. Stand back, take the "
    "lamp and the mirror, and look at each joint in turn. Is it dry, or leaking? Twenty five newton metres, within "
    "limits. Logged. The wait is over in three minutes.",
)
VOICES = {"companion": BuiltinVoice, "mechanic": mechanic_voice}
LINES = ("Next.", "Twenty five newton metres, within limits.", "Keep hands and face out of line of the joint.",
         "Affirm?")


@pytest.mark.parametrize("written, said", [
    ("7.5 N·m", "seven point five newton metres"),
    ("7.50 N.m", "seven point five zero newton metres"),
    ("25Nm", "twenty five newton metres"),
    ("1 N·m", "one newton metre"),
    ("-3 °C", "minus three degrees Celsius"),
    ("1,600 bar", "one thousand six hundred bar"),
    ("10-20 lbf·ft", "ten to twenty pound feet"),
    ("a 10mm bolt", "a ten millimetres bolt"),
    ("50% of 3 kΩ", "fifty percent of three kilohms"),
    ("say N·m or psi", "say newton metres or pounds per square inch"),
    ("bar the door in 1 h", "bar the door in one hour"),
    ("step 3 in the list", "step three in the list"),
    ("code P0204 is gone", "code Papa zero two zero four is gone"),
    ("0204", "zero two zero four"),
    ("12.5.3", "one two point five point three"),
    ("½ turn", "a half turn"),
    ("M8 bolt", "M eight bolt"),
    ("at 10:30", "at ten thirty"),
    ("wait — now (at once)…", "wait, now, at once."),
    ("one\ntwo", "one. two"),
    ("[union](/kælˈAmɪti/)", "union, or kælˈAmɪti or"),
    ("٣ and 4", "three and four"),
    ("😀", ""),
    ("", ""),
])
def test_what_still_holds_symbols_is_turned_into_words(written: str, said: str) -> None:
    """No voice has to guess at a unit, a number, a code or a symbol."""
    assert for_voice(written) == said


@pytest.mark.parametrize("symbol", UNITS)
def test_every_unit_of_the_table_is_said_in_words(symbol: str) -> None:
    """The pass knows every unit that the trade knows, close to the number or not ("in" only close: it is a word)."""
    assert for_voice(f"2{symbol}") == f"two {UNITS[symbol].many}"
    assert for_voice(f"2 {symbol} more") == ("two in more" if symbol == "in" else f"two {UNITS[symbol].many} more")


@given(st.text(max_size=60) | st.text("0123456789.,-+/% N·mP°bar", max_size=30))
@settings(max_examples=300, deadline=None)
def test_no_text_at_all_upsets_the_pass(text: str) -> None:
    """Whatever comes in, only letters and plain punctuation come out, and a second pass changes nothing."""
    said = for_voice(text)
    assert not re.search(r"[^\w .,;:!?'-]|_", said) and not any(c.isdecimal() for c in said)
    assert for_voice(said) == said


def test_a_long_sentence_is_cut_at_a_comma_and_loses_no_word() -> None:
    """The start of a long sentence is ready sooner; the words stay the same and in order."""
    for text in PARAGRAPHS:
        parts = sentences(text)
        assert " ".join(parts) == text
        assert max(len(part.split()) for part in parts) <= 14
    assert pauses(["Stand back,", "and look.", "Dry?"], "prose")[0] == 0
    assert pauses(["Stand back,", "and look.", "Dry?"], "prose")[1] < pauses(["a.", "b."], "prose")[1]
    assert pauses([], "prose") == []


@pytest.mark.parametrize("make", VOICES.values(), ids=VOICES)
@pytest.mark.parametrize("line", LINES)
def test_every_line_comes_at_one_level_without_clicks(make: Callable[[], Voice], line: str) -> None:
    """−20 dBFS while active, peaks below −3 dBFS, edges at zero, and the first word within 50 ms of the start."""
    voice = make()
    sound = voice.render(line)
    assert sound.dtype == np.float32 and sound.ndim == 1 and voice.rate == RATE
    assert 20 * np.log10(active_level(sound, RATE)) == pytest.approx(-20, abs=0.5)
    assert 20 * np.log10(np.abs(sound).max()) < -3
    assert sound[0] == 0 and abs(sound[-1]) < 0.002
    assert np.abs(sound[:int(0.05 * RATE)]).max() > 0.003


@given(st.floats(0.001, 0.9), st.floats(0, 1), st.floats(0, 1))
@settings(max_examples=30, deadline=None)
def test_any_loudness_and_silence_is_brought_to_the_house_level(gain: float, before: float, after: float) -> None:
    """The level handed on does not depend on the level, or the silence, that a voice gives."""
    tone = np.sin(np.arange(RATE) * 0.05).astype(np.float32) * gain
    sound = finish(np.concatenate([np.zeros(int(before * RATE)), tone, np.zeros(int(after * RATE))]), RATE)
    assert 20 * np.log10(active_level(sound, RATE)) == pytest.approx(-20, abs=0.5)
    assert len(sound) == pytest.approx(RATE, abs=0.07 * RATE)


def test_nothing_to_say_is_no_sound() -> None:
    """Empty words give an empty array, silence stays silence."""
    assert len(BuiltinVoice().render("")) == len(BuiltinVoice().render(" … ")) == 0
    assert len(finish(np.zeros(100, np.float32), RATE)) == 0


@pytest.mark.parametrize("make", VOICES.values(), ids=VOICES)
def test_the_pace_is_150_to_170_words_a_minute_and_numbers_are_slower(make: Callable[[], Voice]) -> None:
    """Counted over two paragraphs, pauses included."""
    voice = make()
    sounds = [voice.render(text) for text in PARAGRAPHS]
    assert 150 <= _words_a_minute(sounds) <= 170
    assert len(voice.render(PARAGRAPHS[1], "number")) >= 1.1 * len(sounds[1])


def test_the_built_in_voice_never_needs_the_network_and_repeats_itself() -> None:
    """It uses the one voice that lies in the wheel, and the same words give the same samples."""
    from hibari import voices

    voice = load_voice("builtin")
    assert voices.VOICES[BuiltinVoice()._model.voice]["bundled"]
    assert np.array_equal(voice.render(LINES[1]), BuiltinVoice().render(LINES[1]))


def test_the_mechanic_is_another_voice() -> None:
    """Its pitch is well below the companion's (0.6 of it by construction), so the two are told apart."""
    assert mechanic_voice().name != load_voice("builtin").name
    assert _pitch(mechanic_voice().render(LINES[2])) < 0.7 * _pitch(BuiltinVoice().render(LINES[2]))


def test_an_unknown_preference_is_refused() -> None:
    """Only auto, system and builtin exist."""
    with pytest.raises(BadInput, match="auto, system or builtin"):
        load_voice("robot")


_READY = "import sys; print('{\"voice\": \"x\"}', flush=True); "
FAILING = {
    "never answers": _READY + "sys.stdin.read()",
    "ends at once": _READY,
    "talks nonsense": _READY + "sys.stdin.readline(); print('hm', flush=True); sys.stdin.read()",
    "writes no file": _READY + "[print('{}', flush=True) for line in sys.stdin]",
    "reports a fault": _READY + "[print('{\"fault\": \"cannot\"}', flush=True) for line in sys.stdin]",
}


@pytest.mark.parametrize("script", FAILING.values(), ids=FAILING)
def test_a_failing_system_voice_is_replaced_and_said_so(script: str) -> None:
    """However the engine fails, it costs a moment, the words are still spoken, and the change is told."""
    told: list[str] = []
    voice = SteadyVoice(SystemVoice(command=[sys.executable, "-c", script], patience=0.3), (BuiltinVoice,), told.append)
    assert voice.name == "system (x)"
    for _ in range(2):
        assert np.array_equal(voice.render("Next."), BuiltinVoice().render("Next."))
    assert voice.name == "built-in" and len(told) == 1 and "voice takes over: built-in" in told[0]


def test_an_engine_that_cannot_start_says_what_to_do() -> None:
    """The message names the voice, what is wrong, and the way out."""
    for command in (["/nowhere/engine"], [sys.executable, "-c", "print('{\"fault\": \"no English voice\"}')"]):
        with pytest.raises(BrokenMachine, match="system voice: .*Use the built-in voice"):
            SystemVoice(command=command)


@pytest.fixture
def system_voice():
    """The system's own voice, where it has one."""
    needs("a system voice")
    voice = SystemVoice()
    yield voice
    voice.close()


def test_the_system_voice_says_each_line_whole_every_time(system_voice: SystemVoice) -> None:
    """Alternating lines and paces never mix, end early or come out empty: each has one length (to 10 ms)."""
    lengths = Counter((line, pace, round(len(system_voice.render(line, pace)) / RATE, 1))
                      for _ in range(10) for line in LINES for pace in ("prose", "number"))
    assert len(lengths) <= len(LINES) * 2 + 2  # a length may fall on the edge of a tenth
    assert min(length for _, _, length in lengths) > 0.2


def test_the_system_voice_keeps_pace_and_level(system_voice: SystemVoice) -> None:
    """The same house rate and level as the built-in voice, at the same number of samples a second."""
    sounds = [system_voice.render(text) for text in PARAGRAPHS]
    assert 140 <= _words_a_minute(sounds) <= 180  # wider: voices differ from release to release
    assert 20 * np.log10(active_level(sounds[0], RATE)) == pytest.approx(-20, abs=0.5)


def test_no_voice_writes_to_standard_output(system_voice: SystemVoice) -> None:
    """The engines print; nothing of it reaches standard output, at the level of the file descriptor."""
    script = ("from companion.edge.voice import load_voice\n"
              "for prefer in ('system', 'builtin'): load_voice(prefer).render('Next. 7.5 N·m')")
    root = Path(__file__).parents[1]
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, cwd=root)
    assert done.stdout == b""


def test_speech_is_rendered_in_sentences_and_only_once() -> None:
    """A second request for the same words gets the same sound; another rate is resampled to its length."""
    voice = BuiltinVoice()
    render = Prerender(voice, 44_100)
    render.prepare(PARAGRAPHS[0])
    pieces = render.pieces(PARAGRAPHS[0])
    sounds = [piece.sound.result(20) for piece in pieces]
    assert [len(sound) / 44_100 for sound in sounds] == pytest.approx(
        [len(voice.render(part)) / RATE for part in sentences(PARAGRAPHS[0])], abs=1e-3)
    again = render.pieces(PARAGRAPHS[0])
    assert len(again) == len(sounds) and all(piece.sound.result() is sound for piece, sound in zip(again, sounds))
    render.close()


def test_the_store_of_rendered_speech_stays_small() -> None:
    """Old sentences are forgotten once the store is full; what is asked for is still rendered."""
    render = Prerender(BuiltinVoice(), most_bytes=300_000)
    for line in LINES * 3:
        assert len(render.pieces(line)[0].sound.result(20))
    assert 0 < render.stored <= 300_000
    render.close()


def _words_a_minute(sounds: list[np.ndarray]) -> float:
    return sum(len(text.split()) for text in PARAGRAPHS) / sum(map(len, sounds)) * RATE * 60


def _pitch(sound: np.ndarray) -> float:
    """Median pitch in Hz of the voiced frames (autocorrelation, 60 to 350 Hz)."""
    found = []
    for start in range(0, len(sound) - 1200, 1200):
        frame = sound[start:start + 1200] - sound[start:start + 1200].mean()
        curve = np.correlate(frame, frame, "full")[1199:]
        lags = slice(RATE // 350, RATE // 60)
        if curve[0] > 1 and curve[lags].max() > 0.5 * curve[0]:
            found.append(RATE / (RATE // 350 + int(curve[lags].argmax())))
    return float(np.median(found))
