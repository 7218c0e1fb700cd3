"""Whether speech is for the companion: open listening, an attention word, or a key held to talk. Pure.

By default everything that fits is listened to. With an attention word each answer begins with it; with a talk key
answers count while it is held. "emergency" and "stop" are obeyed either way, bare: they only make things safer. What
is not accepted without word or key was not for the companion, and is passed over without "say again".

Measured with the embedded ear at a value step of the injector card, two throats of the built-in voice, quiet. Of 22
commands after "companion", 43 of 44 were right and one was doubted. Without the word, or with the key up, none was
accepted but "stop" and "emergency", and "stop job" taken for "stop" (6 of 44 each). Card sentences read aloud, 40 by
two: none was accepted in any way of listening (0 of 80: at most 4.6 %, Wilson).
"""
from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Optional

from companion.core.commands import REASONS, STANDING
from companion.core.grammar import Choice, Listen, Phrase, Rule, Sequence
from companion.core.numbers import DIGITS, TEENS, TENS
from companion.core.phonemes import VOWELS, phonemes
from companion.core.sounding import sounds_alike
from companion.core.spelling import ICAO
from companion.core.words import fold, words
from companion.edge.ear import Guess
from companion.edge.keys.names import check_key
from companion.errors import BadInput
from companion.trade.units import UNITS

URGENT = ("emergency", "stop")
"""Rules that need neither word nor key."""
TAIL_FRAMES = 25
"""How long a released key still counts before speech is noticed, in frames of 20 ms: the pause detector notices a
beginning up to 0.44 s late (`ear.endpoint`), and whoever says "next" has let go by then."""

_SUGGESTED = "companion"
_LEAST_SYLLABLES = 2


@dataclass(frozen=True)
class Attention:
    """How a job listens; word and key do not go together."""

    word: str = ""
    """Checked by `check_word`; "" for none."""
    talk_key: str = ""
    """Held to talk: a name from `keys.check_key`; "" for none."""
    next_key: str = ""
    """Pressed for "next", whatever else listens; "" for none."""

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys to be watched."""
        return tuple(key for key in (self.talk_key, self.next_key) if key)

    @property
    def name(self) -> str:
        """As the log says it: "open", "word: companion" or "key held"."""
        return f"word: {self.word}" if self.word else "key held" if self.talk_key else "open"

    def live(self, listen: Listen, held: bool = False) -> Listen:
        """What the ear is to listen for, of all that makes sense now."""
        if self.word:
            return with_word(listen, self.word)
        return only_urgent(listen) if self.talk_key and not held else listen

    def heard(self, guess: Guess, held: bool = False) -> Optional[tuple[str, str]]:
        """The words without the attention word, and by what they were taken for the companion's, as `Hearing.by` has it
        ("" for open listening, and for a bare "stop"). None for speech that was not for it."""
        if self.talk_key and held:
            return guess.text, "key held"
        if not guess.accepted and (self.word or self.talk_key):
            return None
        text, had_it = without_word(guess.text, self.word) if self.word else (guess.text, False)
        return text, "attention word" if had_it else ""


class Talk:
    """Whether a held key counts: while it is down, just after, and until the utterance begun under it has ended."""

    def __init__(self) -> None:
        self._down = False
        self._left = 0

    def press(self) -> None:
        """The key went down. A tap shorter than a chunk counts, too."""
        self._down, self._left = True, TAIL_FRAMES

    def release(self) -> None:
        """The key came up."""
        self._down = False

    def held(self, speaking: bool) -> bool:
        """Asked once for each frame of 20 ms; `speaking`: whether an utterance is running."""
        if self._down:
            self._left = TAIL_FRAMES
        elif self._left and not speaking:
            self._left -= 1
        elif self._left:
            self._left = 1  # the utterance holds it; when that has ended, so has this
        return self._left > 0


def with_word(listen: Listen, word: str) -> Listen:
    """Each rule begins with `word`; "emergency" and "stop" may also stand bare."""
    return Listen(tuple(_after(word, rule) for rule in listen.rules))


def _after(word: str, rule: Rule) -> Rule:
    expr = Sequence((Phrase(word), rule.expr))
    return replace(rule, expr=Choice((expr, rule.expr)) if rule.name in URGENT else expr)


def without_word(text: str, word: str) -> tuple[str, bool]:
    """What stands after the word, and whether it stood first."""
    first = words(text)[:1]
    if not first or (first[0].text,) != fold(word):
        return text, False
    return text[first[0].end:].lstrip(" ,.;:!?-"), True


def only_urgent(listen: Listen) -> Listen:
    """What is live while a talk key is up."""
    return Listen(tuple(rule for rule in listen.rules if rule.name in URGENT))


def attention_of(word: str, talk_key: str, next_key: str, microphone: bool, real_time: bool) -> Attention:
    """What was asked for on the command line, each "" where it was not. Raises BadInput for what cannot be had
    together, or not without a `microphone` or `real_time`."""
    chosen = Attention(check_word(word) if word else "", check_key(talk_key, "--talk-key") if talk_key else "",
                       check_key(next_key, "--next-key") if next_key else "")
    if word and talk_key:
        raise BadInput("--attention", "must stand without --talk-key", do="Leave one of them out")
    if (word or talk_key) and not microphone:
        raise BadInput("--attention" if word else "--talk-key", "needs the microphone", "typed lines or a sound file")
    if next_key and not real_time:
        raise BadInput("--next-key", "needs the real clock", "--clock simulated")
    if chosen.talk_key and chosen.talk_key == chosen.next_key:
        raise BadInput("--next-key", "must be another key than --talk-key", f'"{next_key}"')
    return chosen


def check_word(word: str) -> str:
    """The attention word as it is listened for. Raises BadInput for a word that cannot serve: not one word of letters,
    of fewer than two syllables (too like noise; common practice, no source), or like anything else that is said."""
    folded = fold(word)
    if len(folded) != 1 or not folded[0].isascii() or not folded[0].isalpha():
        raise _unfit("must be one word of plain letters", repr(word))
    if sum(sound in VOWELS for sound in phonemes(folded[0])) < _LEAST_SYLLABLES:
        raise _unfit(f"must have at least {_LEAST_SYLLABLES} syllables", f'"{folded[0]}"')
    like = next((said for said in _said() if said == folded[0] or sounds_alike(folded[0], said)), None)
    if like is not None:
        raise _unfit(f'must not sound like "{like}", which is said in a job', f'"{folded[0]}"')
    return folded[0]


def _unfit(must: str, found: str) -> BadInput:
    return BadInput("--attention", must, found, do=f'Take another word, such as "{_SUGGESTED}"')


def _said() -> tuple[str, ...]:
    """Every standing phrase, and each word of phrases, reasons, numbers, units and spellings."""
    spoken = [*STANDING, *REASONS, *ICAO.values(), *DIGITS, *TEENS, *TENS]
    spoken += [form for unit in UNITS.values() for form in unit.heard]
    return tuple(dict.fromkeys((*STANDING, *(word.lower() for phrase in spoken for word in phrase.split()))))
