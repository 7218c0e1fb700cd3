"""The ear, from sound to meaning: the real model and a real voice through the real live path."""
from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soxr

from companion.core.commands import RULES, all_commands
from companion.core.grammar import Choice, Listen, Maybe, Number, Phrase, Rule, Sequence, Spelling, Unit
from companion.core.understand import understand
from companion.edge.ear import RATE, Guess, LivePath, load_ear
from companion.edge.ear.endpoint import CHUNK, EARLY_S, FULL_S, PRE_ROLL_S, Endpoint
from companion.edge.ear.grammar import Grammar, tokenizer
from companion.edge.ear.model import Model, model_folder
from companion.edge.ear.pattern import pattern
from companion.edge.ear.tokens import read_pieces
from companion.edge.voice.builtin import MECHANIC, BuiltinVoice
from companion.errors import BrokenMachine

VALUE = Listen((Rule("value", Sequence((Maybe(Phrase("log value")), Number(), Maybe(Unit(("N·m", "lbf·ft"))))),
                     True),))
PRESSURE = Listen((Rule("value", Sequence((Number(), Maybe(Unit(("bar", "kPa", "MPa", "psi"))))), True),))
CODE = Listen((Rule("code", Spelling(5, 5), True),))
LEAK = Listen((Rule("run_answer", Choice((Phrase("dry"), Phrase("leaking at the union"),
                                          Phrase("leaking at the seat")), "choice"), True),))
COMMANDS = all_commands()
YES_NO = Listen((RULES["affirm"], RULES["negative"], RULES["repeat"]))


@pytest.fixture(scope="module")
def path() -> LivePath:
    """One ear for all tests of this module: it takes half a second to load."""
    return LivePath(load_ear("embedded"))


def spoken(text: str) -> np.ndarray:
    """`text` in the built-in voice's lower throat, 16 kHz."""
    voice = BuiltinVoice(MECHANIC, speed=1.1)
    return soxr.resample(voice.render(text), voice.rate, RATE).astype(np.float32)


def silence(seconds: float) -> np.ndarray:
    """A quiet room: hiss 66 dB under full scale."""
    return (np.random.default_rng(7).normal(0, 5e-4, int(seconds * RATE))).astype(np.float32)


def heard(path: LivePath, listen: Listen, *sounds: np.ndarray) -> list[Guess]:
    """What comes of these sounds, fed as a microphone gives them."""
    path.reset()
    path.listen(listen)
    whole = np.concatenate([silence(0.6), *sounds, silence(0.3)])
    guesses = [guess for start in range(0, len(whole), 480) for guess in path.feed(whole[start:start + 480])]
    return guesses + path.finish()


@pytest.mark.parametrize("listen, text", [
    (COMMANDS, "next"), (COMMANDS, "say again"), (COMMANDS, "previous step"), (COMMANDS, "emergency"),
    (COMMANDS, "stop job"),
    (COMMANDS, "how long"), (COMMANDS, "timer five minutes"), (COMMANDS, "what did I read"), (COMMANDS, "leave open"),
    (COMMANDS, "log value twenty five newton metres"), (COMMANDS, "which cylinder"),
    (YES_NO, "negative"), (YES_NO, "affirm"),
    (VALUE, "seven point five newton metres"), (VALUE, "log value eighteen point two five pound feet"),
    (VALUE, "a hundred and five newton metres"), (PRESSURE, "one thousand six hundred bar"),
    (PRESSURE, "minus three bar"),
    (PRESSURE, "zero point five zero megapascals"), (CODE, "papa zero two zero four"),
    (CODE, "uniform one zero one six"),
    (LEAK, "dry"), (LEAK, "leaking at the union"),
])
def test_a_voice_is_heard_right(path: LivePath, listen: Listen, text: str) -> None:
    """One utterance gives one accepted guess that means what was said, to the digit."""
    guesses = heard(path, listen, spoken(text))
    assert [guess.reading for guess in guesses] == [understand(listen, text)]
    assert guesses[0].accepted and guesses[0].score > 0.5


def test_speech_at_the_very_start_and_end_of_the_stream_is_whole(path: LivePath) -> None:
    """No sound before the first word nor after the last is needed, and the stream may come in one piece."""
    path.reset()
    path.listen(VALUE)
    guesses = path.feed(spoken("seven point five newton metres")) + path.finish()
    assert [guess.reading.get("number") for guess in guesses] == ["7.5"]


def test_several_utterances_come_in_order(path: LivePath) -> None:
    """Utterances a second apart are told apart, with their places in the stream."""
    guesses = heard(path, COMMANDS, spoken("repeat"), silence(1.0), spoken("what torque"), silence(1.0), spoken("next"))
    assert [guess.reading.rule for guess in guesses] == ["repeat", "what_torque", "next"]
    assert all(one.end_s < two.start_s for one, two in zip(guesses, guesses[1:]))


def test_a_complete_phrase_ends_early_and_one_that_may_go_on_does_not(path: LivePath) -> None:
    """After a quarter of a second of silence "next" is answered; "stop" is held back, for "stop job" is live."""
    waits = {}
    for word in ("next", "stop"):
        path.reset()
        path.listen(COMMANDS)
        sound = np.concatenate([silence(0.6), spoken(word)])
        assert path.feed(sound) == []
        waits[word] = next(n * CHUNK / RATE for n in range(1, 60) if path.feed(silence(CHUNK / RATE)))
    assert waits["next"] < EARLY_S + 0.25 < FULL_S <= waits["stop"] + 0.1


def generated_noises() -> dict[str, np.ndarray]:
    """Three seconds each of what a workshop sounds like, made here: hiss, idle, whine, knocks, hum."""
    random, t = np.random.default_rng(3), np.arange(3 * RATE) / RATE
    hiss = random.normal(0, 0.1, len(t))
    knocks = (np.exp(-((t * 4) % 1) * 25) * random.normal(0, 0.5, len(t)))
    idle = sum(np.sin(2 * np.pi * 27 * k * t + k) / k for k in range(1, 25)) * 0.1 + hiss * 0.1
    whine = np.sin(2 * np.pi * (900 + 300 * np.sin(2 * np.pi * 0.7 * t)) * t) * 0.2
    noises = {"hiss": hiss, "idle": idle, "whine": whine, "knocks": knocks,
              "hum": 0.3 * np.sin(2 * np.pi * 50 * t), "nothing": t * 0}
    return {name: noise.astype(np.float32) for name, noise in noises.items()}


@pytest.mark.parametrize("listen, text, longer", [
    (COMMANDS, "Repeat", False), (COMMANDS, "Repeat.", False), (COMMANDS, "Stop", True), (COMMANDS, "Stop.", True),
    (VALUE, "Seven", True), (VALUE, "Seven.", True), (VALUE, "7", True), (VALUE, "7 newton metres", False),
    (VALUE, "7.", True), (LEAK, "dry", False), (LEAK, "Dry,", False), (CODE, "papa zero", True),
    (CODE, "Papa, zero.", True), (CODE, "papa zero two zero four.", False),
])
def test_a_closing_mark_alone_is_nothing_to_wait_for(listen: Listen, text: str, longer: bool) -> None:
    """The recogniser writes "Repeat" or "Repeat.": either has ended. "7." may become "7.5", and "Stop." "Stop. Job"."""
    pieces = read_pieces(model_folder() / "tokenizer.bin")
    grammar = Grammar(pattern(listen), pieces, tokenizer(pieces))
    place = grammar.start()
    for byte in f" {text}".encode():
        place = grammar.step(place, pieces.index(bytes([byte])))
    assert grammar.longer(place) is longer


@pytest.mark.parametrize("name", generated_noises())
@pytest.mark.parametrize("listen", [COMMANDS, VALUE, YES_NO], ids=["commands", "value", "yes-no"])
def test_noise_is_not_accepted(path: LivePath, name: str, listen: Listen) -> None:
    """Whatever the pause detector lets through, no noise counts as a word."""
    assert not [guess for guess in heard(path, listen, generated_noises()[name]) if guess.accepted]


@pytest.mark.parametrize("text", ["The weather will be better on Sunday.", "I told him about the football yesterday.",
                                  "Could you pass me that coffee, please?"])
@pytest.mark.parametrize("listen", [COMMANDS, VALUE, YES_NO, CODE], ids=["commands", "value", "yes-no", "code"])
def test_speech_for_somebody_else_is_not_accepted(path: LivePath, text: str, listen: Listen) -> None:
    """A sentence out of a conversation does not count as an answer."""
    assert not [guess for guess in heard(path, listen, spoken(text)) if guess.accepted]


def test_nothing_is_listened_for_or_the_ear_is_muted(path: LivePath) -> None:
    """Without rules nothing is accepted; muted, sound is not even looked at; the next `listen` opens the ear again."""
    assert not [guess for guess in heard(path, Listen(), spoken("next")) if guess.accepted]
    path.listen(COMMANDS)
    path.mute()
    assert path.feed(spoken("next")) == [] == path.finish()
    assert [guess.reading.rule for guess in heard(path, COMMANDS, spoken("next"))] == ["next"]


@pytest.mark.parametrize("samples", [
    np.zeros(0), np.zeros(10), np.full(RATE, np.nan), np.full(RATE, np.inf), np.full(RATE, 1e30),
    np.ones(RATE), np.random.default_rng(1).normal(0, 0.2, (RATE, 2)), np.random.default_rng(1).normal(0, 0.2, 24 * RATE),
], ids=["none", "ten", "nan", "inf", "huge", "constant", "two columns", "too long"])
def test_any_samples_are_survived(path: LivePath, samples: np.ndarray) -> None:
    """Neither the ear nor the live path raises or accepts anything, whatever the numbers are."""
    assert not path.ear.hear(samples, COMMANDS).accepted
    assert not [guess for guess in heard(path, COMMANDS, samples.ravel()) if guess.accepted]


@pytest.mark.parametrize("seconds", [9, 12, 20])
def test_long_sound_is_survived(path: LivePath, seconds: int) -> None:
    """A vehicle number spelled in one breath lasts ten seconds and more: past 384 frames the network once stopped."""
    noise = np.random.default_rng(1).normal(0, 0.05, seconds * RATE).astype(np.float32)
    assert isinstance(path.ear.hear(noise, COMMANDS), Guess)


def test_the_same_sound_gives_the_same_guess(path: LivePath) -> None:
    """No chance and no memory: neither what was heard before nor the size of the pieces changes a guess."""
    sound = spoken("log value twenty five newton metres")
    first, *_ = heard(path, COMMANDS, sound)
    heard(path, YES_NO, spoken("negative"))
    again, *_ = heard(path, COMMANDS, sound)
    assert (first.reading, first.score, first.alternatives) == (again.reading, again.score, again.alternatives)


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="counts threads as Linux shows them")
def test_the_pause_detector_starts_no_threads() -> None:
    """In a process of its own: over four threads, as its library would have it, it took ten times the processor."""
    program = ("import os; from companion.edge.ear.endpoint import CHUNK, pause_detector; detector = pause_detector(); "
               "detector.process_samples([0.0] * CHUNK); print(len(os.listdir('/proc/self/task')), "
               "'OMP_THREAD_LIMIT' in os.environ)")
    env = {name: value for name, value in os.environ.items() if name != "OMP_THREAD_LIMIT"} | {"OPENBLAS_NUM_THREADS": "1"}
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=env, check=True)
    assert found.stdout.split() == ["1", "False"]


def test_what_another_ear_heard_before_changes_no_guess() -> None:
    """A fresh ear, and one that has heard other words under the same commands: the same score, to the last digit kept."""
    sound = spoken("what did I read")
    fresh, used = (LivePath(load_ear("embedded", threads=1)) for _ in range(2))
    for word in ("repeat", "stop job", "log value twelve bar"):
        heard(used, COMMANDS, spoken(word))
    (one,), (other,) = heard(fresh, COMMANDS, sound), heard(used, COMMANDS, sound)
    assert (one.reading, one.score, one.alternatives) == (other.reading, other.score, other.alternatives)


def test_an_utterance_holds_the_sound_before_it_was_noticed() -> None:
    """The pause detector is late; the utterance still begins half a second before its notice."""
    endpoint, speech = Endpoint(), spoken("negative")
    found = [*endpoint.feed(np.concatenate([silence(1.0), speech, silence(1.0)]))]
    whole = [utterance for utterance in found if utterance.whole]
    assert len(whole) == 1 and [(part.whole, part.may_end) for part in found] == [(False, False), (False, True), (True, True)]
    assert len({len(part.samples) for part in found}) == 1  # one guess serves all three
    assert 0.9 <= whole[0].start_s <= 1.44
    assert len(whole[0].samples) / RATE >= PRE_ROLL_S + len(speech) / RATE * 0.8


def test_the_word_pieces_are_read_whole() -> None:
    """32,768 pieces (the decoder's width); bytes first, then merges; a cut file is refused."""
    pieces = read_pieces(model_folder() / "tokenizer.bin")
    assert len(pieces) == 32_768
    assert {bytes([byte]) for byte in range(256)} <= set(pieces) and b" next" in pieces


@pytest.mark.parametrize("name, damage", [
    ("tokenizer.bin", b"\x05<un"), ("encoder_model.ort", b"not a model"), ("decoder_model_merged.ort", b""),
])
def test_a_damaged_model_says_what_to_do(tmp_path: Path, name: str, damage: bytes) -> None:
    """A cut or foreign file raises BrokenMachine with the way to repair it, not the runtime's own error."""
    for path in model_folder().iterdir():
        (tmp_path / path.name).symlink_to(path)
    (tmp_path / name).unlink()
    (tmp_path / name).write_bytes(damage)
    with pytest.raises(BrokenMachine, match="pip install"):
        Model(tmp_path)
        read_pieces(tmp_path / "tokenizer.bin")
