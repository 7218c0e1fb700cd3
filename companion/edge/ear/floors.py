"""When a guess counts. Every number that was fitted stands here, with how it was measured.

Measured through the live path on recordings of people's single words, digits and ICAO alphabet, on synthetic voices saying
commands, values and codes, clean and with recorded and generated noise at 10 and 0 dB (1,503 utterances), on 350 that were
not meant for the program, and on 170 noises. Fitted on one half of them and on the other the weights differ by up to a third,
and 0.95 and 0.96 of the right ones are kept. The letters heard (`letters`) brought most: 0.90 without them at as many false
accepts. Hearing twice is here for the score: it finds no more (81 of 100 words at 0 dB once, 80 twice) and knows better which to
trust (log loss 0.149, once 0.167; 7 noises accepted, once 11).
"""
from __future__ import annotations

import math

PRIOR_WEIGHT, PRIOR_LEAST = 0.8, -20.0
"""How much of the log probability that the decoder gives a reading without hearing anything is taken off it: it
corrects the pull to short words in noise (ten command words, n = 100: 0.83 to 0.89 at 10 dB, 0.57 to 0.66 at 0 dB); 0.8 and
0.95 are alike, 0.65 a point worse. What the decoder says of the very noise before the word did no better than of generated
noise. Below the least all long sentences are alike; without that bound long nonsense wins (values 0.73 right, not 0.95, n = 110)."""

LETTERS_WEIGHT = 0.4
"""How much the letters count beside the recogniser when readings are compared: 0.25 to 0.5 are alike, 0.7 costs digits 2 points."""

MOST_MARGIN = 8.4
_GAPS, _EVIDENCES, _LETTERS_GAPS = (-15.0, 2.0), (-4.0, 6.0), (-25.0, 0.0)
_MARGIN, _GAP, _EVIDENCE, _LETTERS, _OFFSET = 0.284, 0.172, 0.354, 0.172, 0.04
_SHORTEST, _USUAL = 4, 6
"""Characters: no text counts as shorter, and at the second the letters' gap counts as it is."""
_SAME, _SOME_WORDS, _LESS = -3.0, 10, 0.4
"""Above such a gap the recogniser nearly writes the sentence by itself; of a text of so many characters the letters' gap
then counts so much. Own choice: -0.7 to -5 and 0.25 to 0.4 are alike in what is accepted (n = 1,945)."""

ASKS, RECORDS = 0.5, 0.6
"""The least score that is accepted, for acts that only ask and for acts that change the record. 0.5 kept 0.96 of
the right guesses (all noises together), and accepted 18 of 350 utterances not for the program and 7 of 170 noises; 0.6 kept 0.94,
and accepted 14 and 6."""
SURE_ASKS, SURE_RECORDS, SURE_LEAD = 0.9, 0.92, 0.5
"""The least score that is not asked back, and by how much (natural log) the recogniser and the letters must each prefer it by
itself. That kept 0.85 and 0.84 of the right ones; wrong there: 2 and 2 of 1,503, 2 and 2 of what was not meant, no noise.
Without the lead they were 0.88 and 0.87, 10 and 9, 3 and 3."""


def confidence(margin: float, gap: float, evidence: float, letters: float, length: int) -> float:
    """A guess's score, 0 to 1: the chance that it was said. All four are differences of natural logs.

    `margin` is the lead over the next reading. `gap` is the log probability less that of what the model would write
    unconstrained: other speech has other words in mind, and the gap is wide. `evidence` is the log probability less
    that without hearing anything: noise adds little to it. `letters` is what `gap` is, by the letters heard; it grows
    with chance as the root of the text's `length` does, and counts less where the recogniser nearly writes a text of some words by
    itself: without that a caution of four words, blurred by a fast voice, fell below the floor.
    """
    letters /= math.sqrt(max(length, _SHORTEST) / _USUAL)
    if gap > _SAME and length >= _SOME_WORDS:
        letters *= _LESS
    gap, evidence, letters = (min(max(value, low), high) for value, (low, high) in
                              ((gap, _GAPS), (evidence, _EVIDENCES), (letters, _LETTERS_GAPS)))
    total = _OFFSET + _MARGIN * min(margin, MOST_MARGIN) + _GAP * gap + _EVIDENCE * evidence + _LETTERS * letters
    return 1 / (1 + math.exp(-total))
