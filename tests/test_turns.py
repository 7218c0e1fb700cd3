"""Taking turns: the companion gives way, goes on where it stopped, never hears itself, and can be interrupted."""
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from companion.core.commands import all_commands
from companion.core.grammar import Listen
from companion.edge.bench.own_voice import interruptions, own_voice
from companion.edge.ear import NOTHING, Guess
from companion.edge.live.echo import LEARNING_S, RELEARN_S, TAIL_S, Canceller
from companion.edge.live.turns import LONGEST_S, PATIENCE_S, Turns
from companion.edge.sound import EAR_RATE, FRAME, Frame

STOP = Guess("stop", 0.95, True, True, None)
QUIET = np.zeros(FRAME, np.float32)
OWN = (0.1 * np.sin(np.arange(FRAME))).astype(np.float32)
LEARNT = round(LEARNING_S * EAR_RATE / FRAME)


@dataclass
class Path:
    """An ear that finds speech when it is told to."""

    speaking: bool = False
    guesses: list[Guess] = field(default_factory=list)
    got: list[np.ndarray] = field(default_factory=list)

    def listen(self, listen: Listen) -> None:
        """All the same to it."""

    def reset(self) -> None:
        """Forgets what it got."""
        self.got.clear()

    def feed(self, sound: np.ndarray) -> list[Guess]:
        """What it was told to guess."""
        self.got.append(sound)
        guesses, self.guesses = self.guesses, []
        return guesses


@dataclass
class Speaker:
    """Notes what is asked of it."""

    idle: bool = False
    free: bool = True
    went_on: int = 0

    def hold(self) -> None:
        """Silent."""
        self.free = False

    def go_on(self) -> None:
        """Speaks again."""
        self.free, self.went_on = True, self.went_on + 1


@pytest.fixture
def turns() -> Turns:
    """A companion that is speaking, and has learnt the room."""
    made = Turns(Path(), Speaker())
    for _ in range(LEARNT):
        made.feed(Frame(QUIET, OWN), Listen())
    return made


def step(turns: Turns, speaking: bool, *guesses: Guess, played: np.ndarray = OWN) -> list[tuple[Guess, bool]]:
    """One frame in which somebody speaks, or not."""
    turns.path.speaking, turns.path.guesses = speaking, list(guesses)
    return turns.feed(Frame(QUIET, played), all_commands())


def test_it_gives_way_and_what_means_nothing_lets_it_go_on(turns: Turns) -> None:
    """Silent from the first frame with speech; after a guess that is not accepted it goes on."""
    step(turns, True)
    assert turns.held and not turns._speaker.free
    found = step(turns, False, NOTHING)
    assert found == [(NOTHING, True)] and turns._speaker.free and turns._speaker.went_on == 1 and not turns.held


def test_after_a_command_it_stays_silent_until_the_answer(turns: Turns) -> None:
    """The old words do not come back for a moment between a command and its answer."""
    step(turns, True)
    assert step(turns, False, STOP) == [(STOP, True)]
    assert not turns._speaker.free and turns._speaker.went_on == 0 and not turns.held
    assert step(turns, False) == []


def test_it_waits_its_turn_but_not_for_ever(turns: Turns) -> None:
    """A noise that never ends holds a caution up for four seconds, and no longer, until it has ended."""
    frames = [step(turns, True) and None or turns._speaker.free for _ in range(round(LONGEST_S * EAR_RATE / FRAME) + 50)]
    assert frames.count(False) == pytest.approx(LONGEST_S * EAR_RATE / FRAME, abs=2) and frames[-1]
    step(turns, False)
    step(turns, True)
    assert not turns._speaker.free


def test_sound_that_is_lost_all_the_time_does_not_make_it_deaf(turns: Turns) -> None:
    """One second of learning in five seconds of its own sound, however often some of it is lost."""
    deaf = 0
    for _ in range(round(20 * EAR_RATE / FRAME)):
        turns.path.guesses = [STOP]
        deaf += turns.feed(Frame(QUIET, OWN, shifted=True), Listen()) == []
    assert 0 < deaf * FRAME / EAR_RATE <= 20 / (RELEARN_S - LEARNING_S) * LEARNING_S


def test_a_radio_does_not_keep_a_caution_from_being_said(turns: Turns) -> None:
    """Talk of a second with pauses of a third holds it up for eight seconds in all, not for as long as the radio plays."""
    held = 0
    for _ in range(40):
        for speaking, seconds in ((True, 1.1), (False, 0.35)):
            for _ in range(round(seconds * EAR_RATE / FRAME)):
                step(turns, speaking)
                held += not turns._speaker.free
    assert held * FRAME / EAR_RATE == pytest.approx(PATIENCE_S, abs=1.2)


def test_speech_that_began_first_is_not_above_its_own(turns: Turns) -> None:
    """Somebody speaks while it is silent: nothing is held, and nothing is taken for an interruption."""
    turns._speaker.idle = True
    step(turns, True, played=QUIET)
    assert not turns.held and step(turns, False, STOP, played=QUIET) == [(STOP, False)]


def test_until_the_room_is_learnt_its_own_words_are_not_listened_to() -> None:
    """Half duplex for two seconds of its speech, and one after sound was lost; in silence it hears at once."""
    turns = Turns(Path(), Speaker())
    assert step(turns, True, STOP) == [] and not turns.held
    for _ in range(round(RELEARN_S * EAR_RATE / FRAME) + 1):
        turns.feed(Frame(QUIET, OWN), Listen())
    assert step(turns, True, STOP) == [(STOP, True)]
    turns.feed(Frame(QUIET, OWN, shifted=True), Listen())
    assert step(turns, True, STOP) == []
    for _ in range(round(TAIL_S * EAR_RATE / FRAME)):
        step(turns, False, played=QUIET)
    assert step(turns, True, STOP, played=QUIET)


def test_in_the_clear_the_ear_gets_the_microphone_as_it_is(turns: Turns) -> None:
    """The canceller bends speech; where nothing of the companion is in the air it is left out."""
    heard = np.random.default_rng(1).normal(0, 0.1, FRAME).astype(np.float32)
    for _ in range(round(TAIL_S * EAR_RATE / FRAME) + 1):
        turns.feed(Frame(heard, QUIET), Listen())
    assert np.array_equal(turns.path.got[-1], heard)
    turns.feed(Frame(heard, OWN), Listen())
    assert not np.array_equal(turns.path.got[-1], heard)


def test_the_canceller_takes_its_own_sound_out_and_leaves_the_rest() -> None:
    """After two seconds an echo is at least 20 dB weaker; without a reference the microphone keeps its level."""
    random = np.random.default_rng(2)
    own = random.normal(0, 0.1, 4 * EAR_RATE).astype(np.float32)
    echo = np.concatenate([np.zeros(800, np.float32), own])[:len(own)] * np.float32(0.5)
    canceller = Canceller()
    clean = np.concatenate([canceller.clean(echo[at:at + FRAME], own[at:at + FRAME]) for at in range(0, len(own), FRAME)])
    late = slice(2 * EAR_RATE, None)
    assert 10 * np.log10(np.square(echo[late]).mean() / np.square(clean[late]).mean()) > 20


def test_it_never_hears_itself_and_can_be_interrupted() -> None:
    """The real voice, canceller and ear in a room on paper, at equal level: nothing accepted in 12 s of its own speech, and
    four commands of three talkers obeyed. `companion bench turns` does the same at length."""
    alone = own_voice(minutes=0.2, echo_db=0)
    assert alone.accepted == 0 and alone.pauses == 0
    found = interruptions(4, echo_db=0)
    assert (found.obeyed, found.wrong) == (4, 0)
