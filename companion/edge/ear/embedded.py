"""The embedded ear: constrained beam search with the small English model, checked by `core.understand`."""
from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import dataclass, replace

import numpy as np

from companion.core.grammar import Listen, Phrase, Reading, Rule
from companion.core.understand import understand
from companion.edge.ear import beam, floors
from companion.edge.ear.base import NOTHING, RATE, Guess
from companion.edge.ear.beam import Greedy, Sentence
from companion.edge.ear.by_letters import ByLetters
from companion.edge.ear.crops import MOST, Crops, even
from companion.edge.ear.endpoint import Endpoint
from companion.edge.ear.grammar import Grammar, tokenizer
from companion.edge.ear.letters import Letters, likeliest, likelihoods
from companion.edge.ear.memory import give_back
from companion.edge.ear.model import END, Beams, Model, model_folder
from companion.edge.ear.nothing import noise_clips
from companion.edge.ear.pattern import pattern, plain
from companion.edge.ear.tokens import read_pieces

_LISTENS_KEPT = 6
_PIECES_ASKED = 8
_HEARD_AGAIN, _HEARD_AGAIN_LONG, _LONG = 12, 4, 4 * RATE
"""Sentences that are heard a second time, fewer where the sound is long: all their pieces are asked at once."""
_BY_LETTERS = 6
"""Sentences that the letters may put forward."""
_PLAIN = 0.95
"""A guess as sure as this is not heard again: it would come a tenth of a second later."""
_MOST_FREE, _PIECES_A_SECOND = 9 * RATE, 8


@dataclass(frozen=True)
class _Live:
    """One `Listen`, ready to be heard."""

    listen: Listen
    grammar: Grammar
    by_letters: ByLetters


@dataclass(frozen=True)
class _Hearing:
    """What was found in an utterance."""

    found: list[Sentence]
    begun: Beams
    """Before the first piece of the whole utterance."""
    free: Greedy
    heard: np.ndarray
    """Log probabilities of the letters in it."""
    letters: list[float]
    """How likely each sentence is by the letters heard, natural log."""
    written: float
    """The same of the letters that would be written by themselves."""


@dataclass(frozen=True)
class _Ranked:
    """A reading with its likeliest sentence."""

    reading: Reading
    sentence: Sentence
    log_p: float
    """Of all its sentences together, natural log."""
    prior: float
    """The same without hearing anything."""
    letters: float
    """Natural log of how likely it is by the letters heard (`letters`)."""
    by_pieces: float
    """`log_p` less a part of `prior`."""

    @property
    def weight(self) -> float:
        """What readings are compared by: both opinions."""
        return self.by_pieces + floors.LETTERS_WEIGHT * self.letters


class EmbeddedEar:
    """Raises BrokenMachine when the model is missing or damaged. Uses `threads` threads; 0.6 s to load."""

    name = "embedded"

    def __init__(self, threads: int = 2) -> None:
        folder = model_folder()
        self._pieces = read_pieces(folder / "tokenizer.bin")
        self._model = Model(folder, threads)
        self._tokenizer = tokenizer(self._pieces)
        self._crops = Crops()
        self._letters = Letters()
        self._nothing = self._mean_noise()
        self._lives: OrderedDict[Listen, _Live | None] = OrderedDict()

    def hear(self, samples: np.ndarray, listen: Listen) -> Guess:
        """One utterance; see `base.Ear`. Less than 0.05 s of sound, or none, is nothing; beyond 20 s it is cut."""
        begun = time.perf_counter()
        samples = np.asarray(samples, np.float32).ravel()[:MOST]
        guess, live, sound = NOTHING, self._live(listen), even(samples)
        if live is not None and sound is not None:
            hearing = self._first(sound, live)
            guess = self._judged(hearing, live)
            if guess.score < _PLAIN:
                guess = self._judged(self._again(self._also(hearing, live), samples), live)
        give_back()
        return replace(guess, ms=round((time.perf_counter() - begun) * 1000, 1))

    def draft(self, samples: np.ndarray) -> str:
        """See `base.Ear`. Cut at the pauses, since the model was made for single sentences."""
        endpoint = Endpoint()
        ended = [*endpoint.feed(samples), *endpoint.finish()]
        sounds = (even(utterance.samples[:_MOST_FREE]) for utterance in ended if utterance.whole)
        written = " ".join(filter(None, (self._written(sound) for sound in sounds if sound is not None)))
        give_back()
        return written

    def _written(self, sound: np.ndarray) -> str:
        """The greedy sentence."""
        beams, free, written = self._model.begin(self._model.encode(sound)), Greedy(), []
        for _ in range(int(_PIECES_A_SECOND * len(sound) / RATE)):
            pieces = free.write(beams.next[0])
            if not pieces:
                break
            written.append(self._pieces[pieces[0]])
            beams = self._model.step(beams, [0], pieces)
        return b"".join(written).decode("utf-8", "replace").strip()

    def _judged(self, hearing: _Hearing, live: _Live) -> Guess:
        ranked = self._rank(hearing, live)
        return self._judge(ranked, hearing, live) if ranked else NOTHING

    def _first(self, sound: np.ndarray, live: _Live) -> _Hearing:
        frames, free = self._model.encode(sound), Greedy()
        begun = self._model.begin(frames)
        found = beam.search(self._model, begun, live.grammar, beside=free)[:_HEARD_AGAIN]
        heard = self._letters.hear(frames, sound)
        return _Hearing(found, begun, free, heard, likelihoods(heard, list(map(_shown, found))), likeliest(heard))

    def _also(self, first: _Hearing, live: _Live) -> _Hearing:
        """With the sentences that only the letters found, as the recogniser would write them; the likeliest first."""
        known = {None, *(understand(live.listen, _shown(sentence)) for sentence in first.found)}
        new = [text for text in live.by_letters.search(first.heard, _BY_LETTERS)
               if understand(live.listen, text) not in known]
        asked = pattern(Listen(tuple(Rule("letters", Phrase(text)) for text in new)))
        more = beam.search(self._model, first.begun, Grammar(asked, self._pieces, self._tokenizer), beam.NARROW) if asked else []
        letters = [*first.letters, *likelihoods(first.heard, list(map(_shown, more)))]
        order = sorted(zip([*first.found, *more], letters), key=lambda both: -_together(*both))[:_HEARD_AGAIN]
        return replace(first, found=[sentence for sentence, _ in order], letters=[each for _, each in order])

    def _again(self, first: _Hearing, samples: np.ndarray) -> _Hearing:
        """The likeliest sentences, heard once more in the speech alone; the mean of both hearings."""
        sound = even(self._crops.close(samples))
        found = first.found[:_HEARD_AGAIN if sound is not None and len(sound) < _LONG else _HEARD_AGAIN_LONG]
        if sound is None or not found:
            return first
        frames = self._model.encode(sound)
        logs = self._model.score(self._model.begin(frames), [(*sentence.pieces, END) for sentence in found])
        heard = self._letters.hear(frames, sound)
        letters = likelihoods(heard, list(map(_shown, found)))
        return replace(first, found=[replace(each, log_p=(each.log_p + log_p) / 2) for each, log_p in zip(found, logs)],
                       letters=[(one + two) / 2 for one, two in zip(first.letters, letters)],
                       written=(first.written + likeliest(heard)) / 2)

    def _rank(self, hearing: _Hearing, live: _Live) -> list[_Ranked]:
        """The readings of all sentences found, the likeliest first."""
        groups: dict[Reading, list[tuple[Sentence, float]]] = {}
        for sentence, letters in zip(hearing.found, hearing.letters):
            reading = understand(live.listen, _shown(sentence))
            if reading is not None:
                groups.setdefault(reading, []).append((sentence, letters))
        priors = self._priors([sentence for group in groups.values() for sentence, _ in group])
        ranked = [_ranked(reading, group, priors) for reading, group in groups.items()]
        return sorted(ranked, key=lambda entry: -entry.weight)

    def _judge(self, ranked: list[_Ranked], hearing: _Hearing, live: _Live) -> Guess:
        best = ranked[0]
        margin = best.weight - ranked[1].weight if len(ranked) > 1 else floors.MOST_MARGIN
        gap = best.log_p - hearing.free.log_p(len(best.sentence.pieces) + 4)
        shown = _shown(best.sentence)
        score = floors.confidence(margin, gap, best.log_p - best.prior, best.letters - hearing.written, len(shown))
        records = any(rule.records for rule in live.listen.rules if rule.name == best.reading.rule)
        accepted = score >= (floors.RECORDS if records else floors.ASKS)
        sure = score >= (floors.SURE_RECORDS if records else floors.SURE_ASKS) and _agreed(best, ranked[1:])
        total = _total([entry.weight for entry in ranked])
        others = tuple((_shown(entry.sentence), round(float(np.exp(entry.weight - total)), 3)) for entry in ranked[1:4])
        longer = live.grammar.longer(best.sentence.place)
        return Guess(shown, round(score, 3), accepted, sure, best.reading, others, longer=longer)

    def _priors(self, sentences: list[Sentence]) -> dict[Sentence, float]:
        """What the decoder says of each sentence without hearing anything, natural log. Only the first pieces are asked: by
        then a longer sentence lies below `PRIOR_LEAST`, where differences do not count. Nothing is kept for the next
        utterance: the model's whole numbers are scaled for all that it is given at once, and a guess must not hang on what
        was heard before it."""
        begun = [(*sentence.pieces, END)[:_PIECES_ASKED] for sentence in sentences]
        return dict(zip(sentences, self._model.score(self._nothing, begun))) if sentences else {}

    def _mean_noise(self) -> Beams:
        """Before the first piece of one frame that stands for hearing nothing: the encoder's mean over generated noise."""
        frames = np.concatenate([self._model.encode(clip) for clip in noise_clips()], axis=1)
        return self._model.begin(frames.mean(axis=1, keepdims=True))

    def _live(self, listen: Listen) -> _Live | None:
        if listen not in self._lives:
            expression = pattern(listen)
            self._lives[listen] = None if expression is None else _Live(
                listen, Grammar(expression, self._pieces, self._tokenizer), ByLetters(listen))
            if len(self._lives) > _LISTENS_KEPT:
                self._lives.popitem(last=False)
        self._lives.move_to_end(listen)
        return self._lives[listen]


def _together(sentence: Sentence, letters: float) -> float:
    return sentence.log_p + floors.LETTERS_WEIGHT * letters


def _ranked(reading: Reading, group: list[tuple[Sentence, float]], priors: dict[Sentence, float]) -> _Ranked:
    log_p, prior = _total([sentence.log_p for sentence, _ in group]), _total([priors[sentence] for sentence, _ in group])
    by_pieces = log_p - floors.PRIOR_WEIGHT * max(prior, floors.PRIOR_LEAST)
    return _Ranked(reading, group[0][0], log_p, prior, max(letters for _, letters in group), by_pieces)


def _agreed(best: _Ranked, others: list[_Ranked]) -> bool:
    """Whether each opinion by itself prefers it by a clear lead."""
    return all(best.letters - other.letters >= floors.SURE_LEAD and best.by_pieces - other.by_pieces >= floors.SURE_LEAD
               for other in others)


def _shown(sentence: Sentence) -> str:
    return plain(sentence.text.decode("utf-8", "replace").strip(" .,!?"))


def _total(logs: list[float]) -> float:
    return float(np.logaddexp.reduce(logs))
