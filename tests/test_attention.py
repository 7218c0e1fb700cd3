"""Attention: what is listened for with a word or a key, what counts as meant, and what cannot be asked for."""
from __future__ import annotations

import numpy as np
import pytest
import soxr
from hypothesis import given
from hypothesis import strategies as st

from companion.__main__ import main
from companion.core.commands import RULES, STANDING, all_commands
from companion.core.grammar import Listen
from companion.core.sentences import sentences
from companion.core.understand import understand
from companion.edge.attention import (TAIL_FRAMES, URGENT, Attention, Talk, attention_of, check_word, only_urgent,
                                      with_word, without_word)
from companion.edge.ear import RATE, Guess, load_ear
from companion.edge.voice.builtin import MECHANIC, BuiltinVoice
from companion.errors import BadInput

WORD = "companion"
OPEN, WORDED, KEYED = Attention(), Attention(word=WORD), Attention(talk_key="f9")


def guess(text: str, accepted: bool = True) -> Guess:
    return Guess(text, 0.9 if accepted else 0.3, accepted, accepted, understand(all_commands(), text))


@pytest.mark.parametrize("name", RULES)
def test_what_can_be_said_can_be_said_after_the_word_and_means_the_same(name: str) -> None:
    """Every sentence of every command: understood with the word, the same once it is taken off, and not without it."""
    live = Listen((RULES[name],))
    for line in sentences(RULES[name], seed=1, count=20):
        said = f"Companion, {line}"
        assert understand(with_word(live, WORD), said) == understand(live, line)
        assert without_word(said, WORD) == (line, True)
        bare = understand(with_word(live, WORD), line)
        assert bare == (understand(live, line) if name in URGENT else None)


def test_stop_and_emergency_are_live_whatever_the_attention() -> None:
    """The two that make things safer need neither word nor key; nothing else is live while the key is up."""
    for live in (with_word(all_commands(), WORD), only_urgent(all_commands()), KEYED.live(all_commands())):
        assert [understand(live, line).rule for line in ("stop", "emergency")] == ["stop", "emergency"]
        assert [understand(live, line) for line in STANDING if line not in URGENT] == [None] * (len(STANDING) - 2)


def test_what_is_not_live_is_not_made_live() -> None:
    """A moment at which "stop" is not listed stays so."""
    live = Listen((RULES["resume"],))
    assert only_urgent(live) == Listen() and understand(with_word(live, WORD), "stop") is None


@pytest.mark.parametrize("text, left", [
    ("companion next", ("next", True)), ("Companion. Log value 7.5", ("Log value 7.5", True)),
    ("companion", ("", True)), ("next", ("next", False)), ("companions next", ("companions next", False)),
    ("next companion", ("next companion", False)), ("", ("", False)), ("COMPANION-next", ("next", True))])
def test_the_word_is_taken_off_the_front_alone(text: str, left: tuple[str, bool]) -> None:
    """However the recogniser writes it; anywhere else it is no attention word."""
    assert without_word(text, WORD) == left


@given(st.lists(st.sampled_from(["companion", "Compan", "ion", "s", " ", ", ", "-", "next", "7.5", "é", "\x00"]))
       .map("".join))
def test_any_text_is_either_left_alone_or_shortened_at_the_front(text: str) -> None:
    """Nothing is added, and nothing is lost at the end."""
    left, had_it = without_word(text, WORD)
    assert (text.endswith(left) and len(left) < len(text)) if had_it else left == text


@pytest.mark.parametrize("attention, held, said, accepted, meant", [
    (OPEN, False, "next", True, ("next", "")),
    (OPEN, False, "next", False, ("next", "")),
    (WORDED, False, "companion next", True, ("next", "attention word")),
    (WORDED, False, "stop", True, ("stop", "")),
    (WORDED, False, "companion stop", True, ("stop", "attention word")),
    (WORDED, False, "companion next", False, None),
    (KEYED, True, "next", True, ("next", "key held")),
    (KEYED, True, "next", False, ("next", "key held")),
    (KEYED, False, "stop", True, ("stop", "")),
    (KEYED, False, "stop", False, None)])
def test_what_counts_as_said_to_the_companion(attention, held, said, accepted, meant) -> None:
    """Talk that is not for it is not even "not understood"; with the key held everything is for it."""
    assert attention.heard(guess(said, accepted), held) == meant


def test_what_is_listened_for_and_how_the_log_calls_it() -> None:
    """Open listening is everything; a held key is, too."""
    commands = all_commands()
    assert OPEN.live(commands) == KEYED.live(commands, held=True) == commands
    assert WORDED.live(commands, held=True) == with_word(commands, WORD)
    assert [how.name for how in (OPEN, WORDED, KEYED)] == ["open", "word: companion", "key held"]
    assert (OPEN.keys, Attention("", "f9", "b").keys, Attention(next_key="b").keys) == ((), ("f9", "b"), ("b",))


def test_the_real_ear_hears_the_word_and_minds_it() -> None:
    """A real voice through the real ear: obeyed with the word, passed over without, and "stop" obeyed bare."""
    ear, voice = load_ear("embedded"), BuiltinVoice(MECHANIC, speed=1.1)
    live = WORDED.live(Listen(tuple(RULES[name] for name in ("next", "repeat", "options", "stop"))))

    def meant(text: str):
        sound = soxr.resample(voice.render(text), voice.rate, RATE).astype(np.float32)
        heard = WORDED.heard(ear.hear(sound, live))
        return heard and (heard[0].lower(), heard[1])

    assert meant("companion, next") == ("next", "attention word")
    assert meant("next") is None and meant("hold the lamp for me") is None
    assert meant("stop") == ("stop", "")


# -- a held key --------------------------------------------------------------------------------------------------------

def test_a_short_word_counts_though_the_key_is_up_before_it_is_noticed() -> None:
    """The pause detector notices a beginning late: pressed, said, let go, and only then heard."""
    talk = Talk()
    talk.press()
    talk.release()
    assert all(talk.held(False) for _ in range(TAIL_FRAMES - 1))
    assert all(talk.held(True) for _ in range(100)), "the utterance holds it to its end"
    assert not talk.held(False)


def test_speech_after_the_key_came_up_is_not_for_the_companion() -> None:
    """The tail is short, and a released key with nothing said ends it for good."""
    talk = Talk()
    talk.press()
    talk.held(False)
    talk.release()
    for _ in range(TAIL_FRAMES):
        talk.held(False)
    assert not talk.held(True)


@given(st.lists(st.tuples(st.sampled_from(["press", "release", ""]), st.booleans()), max_size=60))
def test_a_key_counts_while_it_is_down_and_never_long_after(steps: list[tuple[str, bool]]) -> None:
    """Down counts always; up and silent ends within the tail."""
    talk, down = Talk(), False
    for what, speaking in steps:
        if what:
            getattr(talk, what)()
            down = what == "press"
        assert talk.held(speaking) or not down
    talk.release()
    assert not [talk.held(False) for _ in range(TAIL_FRAMES + 1)][-1]


# -- what may be asked for ---------------------------------------------------------------------------------------------

@pytest.mark.parametrize("word", ["companion", "Companion", "workmate", "foreman"])
def test_a_word_that_serves(word: str) -> None:
    """In any case of letters."""
    assert check_word(word) == word.lower()


@pytest.mark.parametrize("word, reason", [
    ("mate", "2 syllables"), ("two words", "one word"), ("", "one word"), ("l8ter", "one word"), ("wörk", "one word"),
    ("stopper", 'sound like "stop"'), ("november", 'sound like "november"'), ("seven", 'sound like "seven"'),
    ("metre", "sound like"), ("affirm", 'sound like "affirm"'), ("emergency", "sound like"),
    ("reheat", 'sound like "repeat"'),
    ("customer", 'sound like "customer"')])
def test_a_word_that_cannot_serve_is_refused_with_one_that_can(word: str, reason: str) -> None:
    """Too short, no plain word, or like something that is said in a job."""
    with pytest.raises(BadInput, match=f'--attention: must .*{reason}.*such as "companion"'):
        check_word(word)


def test_what_was_asked_for_is_checked_together() -> None:
    """Names in their own form; nothing asked for is open listening."""
    assert attention_of("", "", "", False, False) == OPEN
    assert attention_of("Companion", "", "B", True, True) == Attention("companion", "", "b")
    assert attention_of("", "F9", "code-104", True, True) == Attention("", "f9", "pageup")
    assert attention_of("", "", "b", False, True) == Attention(next_key="b"), "typed, with a pedal for next"


@pytest.mark.parametrize("options, message", [
    (("--attention", "companion", "--talk-key", "f9"), "--attention: must stand without --talk-key"),
    (("--talk-key", "f9", "--next-key", "F9"), "--next-key: must be another key than --talk-key"),
    (("--talk-key", "f9", "--typed"), "--talk-key: needs the microphone"),
    (("--attention", "companion", "--sound-in", "a.wav"), "--attention: needs the microphone"),
    (("--attention", "stopper"), "--attention: must not sound like"),
    (("--next-key", "pedal"), "--next-key: must be one of a to z"),
    (("--next-key", "f9", "--typed", "--clock", "simulated"), "--next-key: needs the real clock")])
def test_what_does_not_go_together_is_said_before_anything_is_opened(options, message, capsys) -> None:
    """Wrong use of `companion job`, in one sentence."""
    assert main(["job", "learning", *options]) == 2
    assert message in capsys.readouterr().err
