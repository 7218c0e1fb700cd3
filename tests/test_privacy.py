"""What is personal never stands in the log's own lines, whatever way it is said, and README's table of it is true."""
from __future__ import annotations

import json
from hashlib import sha256

import pytest

from companion.core import events as ev
from companion.core.card import SpellingOf, load_card
from companion.core.job.inputs import LoneTerms, MemoTaken, Opened
from companion.core.log.codec import encode
from golden import CARD_OF, CARDS, card, lines_of, play
from simulator import Simulator

INITIALS, REFERENCE = "quebec zulu x-ray", "zulu niner quebec niner"
"""What stands for initials and a customer's reference: found nowhere else."""
SPELLED = {"mike echo": INITIALS, "foxtrot hotel four two": REFERENCE}
SECRETS = (INITIALS, REFERENCE, "QZX", "Z9Q9", "qzx", "Quincy", "my own words")
NOTE = MemoTaken(1, "van.memo-1.flac", "ab" * 32, 900, "Quincy said the return line is cracked")


def lines_of_log(job: Simulator) -> str:
    """What the log's own lines hold of a job."""
    return "\n".join(json.dumps(encode(event, lambda: bytes(16))[0], ensure_ascii=False) for event in job.events)


def texts_beside(job: Simulator) -> list[str]:
    """What goes to the sidecar."""
    return [entry["text"] for event in job.events for entry in encode(event, lambda: bytes(16))[1]]


@pytest.mark.parametrize("session", sorted(CARD_OF))
def test_no_session_of_the_shipped_cards_leaves_a_name_in_the_log(session: str) -> None:
    """Whole jobs, with initials and a reference that cannot be mistaken: not in any event, nor in the words of any."""
    lines = [SPELLED.get(line, line) for line in lines_of(session)]
    job = play(Simulator(card(CARD_OF[session])), lines)
    assert not [words for words in SECRETS if words in lines_of_log(job)]
    assert (INITIALS in texts_beside(job)) == (INITIALS in lines)


def personal_steps() -> list[tuple[str, str]]:
    """Each personal step of the shipped cards."""
    cards = {path.stem: load_card(card(path.stem), path.name) for path in CARDS.glob("*.yaml") if path.stem != "tools"}
    return [(name, step.id) for name, made in sorted(cards.items()) for step in made.steps if step.personal]


@pytest.mark.parametrize("name, step", personal_steps())
@pytest.mark.parametrize("line", [
    "my own words", INITIALS, f"log value {INITIALS}", "because my own words", f"correction {INITIALS}", "leave out", "memo",
    f"correction place two {INITIALS.split()[0]}", f"{INITIALS} emergency", "12 my own words"])
def test_whatever_is_said_at_a_personal_step_stays_beside_the_log(name: str, step: str, line: str) -> None:
    """Understood, doubted, refused or senseless, by ear or typed; and so after a restart, when somebody takes over."""
    session = {"common-rail-injector": "injector-clean", "road-wheels": "road-wheels"}[name]
    lines = [SPELLED.get(said, said) for said in lines_of(session)]
    job = play(Simulator(card(name), ear="test ear"), lines, until=step)
    assert isinstance(job.job.step.answer, SpellingOf) and job.job.step.personal
    job.say(line).say(line, sure=False, score="0.50").say("because my own words", "negative", line)
    job.take(NOTE)
    job.say("affirm", sure=False).say("emergency", line, "emergency over", "affirm")
    job.come_back(60).say(line, "taking over", INITIALS).say(INITIALS, sure=False).say("affirm", line)
    assert not [words for words in SECRETS if words in lines_of_log(job)]
    assert any(words in text for words in SECRETS for text in texts_beside(job))


def test_a_reason_in_ones_own_words_is_not_taken_at_a_personal_step() -> None:
    """A reason stands in the log's own lines; at a personal step only those of the card and the usual ones are."""
    text = card("road-wheels").replace("high: 999999, decimals: 0}", "high: 999, decimals: 0}\n        personal: true", 1)
    job = play(Simulator(text), lines_of("road-wheels"), until="mileage")
    job.say("84250 km", "because my own words")
    assert job.job.mode == "reason" and "my own words" not in lines_of_log(job)
    job.say("reading checked twice", "affirm")
    assert job.kinds(ev.ValueLogged)[-1].reason == "reading checked twice" and "84250" not in lines_of_log(job)


def test_what_stands_in_the_log_itself_is_known() -> None:
    """README's rows of what cannot be erased: a depot's vehicle, a reason in one's own words, a typed line that was not
    understood."""
    job = play(Simulator(card("road-wheels")), lines_of("road-wheels"), until="mileage")
    job.say("blue and white", "1000000 km", "because the dash is new")
    told = lines_of_log(job)
    assert "0FHVN2RX8H0004217" in told and "blue and white" in told and "the dash is new" in told


def test_a_place_and_a_name_given_at_the_start_stay_beside_the_log() -> None:
    """Whoever works, and where, as `--mechanic` and `--place` give them; and the draft of a memo."""
    text = card("learning")
    job = Simulator(text, ear="test ear")
    job.job, job.events = None, []
    job.take(Opened("card.yaml", text, sha256(text.encode()).hexdigest(), "test", "boot", "key", "test ear", "none",
                    mechanic="Quincy", lone=LoneTerms(every_ms=600_000, place="Quincy's yard")))
    job.say("memo").take(NOTE)
    assert texts_beside(job) == ["Quincy", "Quincy's yard", NOTE.draft] and "Quincy" not in lines_of_log(job)
