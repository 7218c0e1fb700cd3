"""A live job by real sound: the program at two null sinks of PulseAudio, and a synthetic mechanic who speaks to it.

The learning card is worked once, from its first word to its closing seal. The companion's own voice reaches its
microphone all the time; it is interrupted in its first sentences; both devices are pulled out in the middle.
"""
from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from companion.__main__ import main
from dictation import word_errors, words
from parts_needed import SOUND, needs
from workshop import Program, Saying, Workshop, engine, voiced

ECHO_DB = -10.0
"""The companion's own voice at its microphone, relative to the mechanic's."""
SNR_DB: float | None = None
"""The mechanic's voice above an idling engine at the microphone; None for no engine. With 10.0 four of four cards reached their
seal, but three of those runs broke an assertion: by a word misheard of the companion, or a line said too often. So it is for trying."""
SAYINGS = 3
"""A line that is not understood is said again, as a person would, so often at the most."""
OFTENER = 2
"""So many sayings more than lines there may be."""
BEFORE_THE_WAIT = (
    ("repeat", "Unroll the tools"),
    ("next", "How many tools?"),
    ("log value four", "Length of the torch?"),
    ("log value twenty-one centimetres", "A torch can dazzle"),
    ("light turned away", "The torch test starts"),
    ("how long", "left on the torch test"),  # the devices are pulled out while this is answered
)
AFTER_IT = (("bright", "The closing seal"),)
"""tests/sessions/learning.txt in brief words: what the mechanic says, and what is in the last line of the answer."""
WORD_ERRORS = 0.35
"""Of clean speech the recogniser gets one word in twenty wrong when nothing constrains it (114 words of this card). Of
a whole job on a busy machine, cut short where it gave way, 0.06 to 0.25 were wrong (n = 5); where it stuttered, 0.6."""


@dataclass
class Worked:
    """The job, as it was seen from outside."""

    workshop: Workshop
    log: Path
    job: Program
    code: int = -1
    sayings: int = 0
    stop: Saying = Saying(0.0, 0.0)
    after_stop: str = ""
    """What was heard of the companion between "stop" and "resume"."""
    resumed: float = 0.0
    pulled: float = 0.0
    after_pulling: str = ""
    """What was heard of it when its devices were back."""
    said: str = ""
    """All that was heard of it from "resume" on."""
    entries: list[dict] = field(default_factory=list)

    def named(self, name: str) -> list[dict]:
        """The data of the log's entries of one kind."""
        return [entry["data"] for entry in self.entries if entry["event"] == name]

    @property
    def taken(self) -> list[str]:
        """The words of all that was taken for an answer, once for all the entries that it made."""
        return list({entry["up"]: entry["data"]["words"] for entry in self.entries
                     if "words" in entry["data"] and entry["event"] != "not_understood"}.values())


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Worked]:
    """The whole job. Takes a minute and a half of real time."""
    needs(*SOUND)
    folder = tmp_path_factory.mktemp("workshop")
    for line in ("affirm", "stop", "resume", *(line for line, _ in BEFORE_THE_WAIT + AFTER_IT)):
        voiced(line)  # rendered before time counts
    log = folder / "job.jsonl"
    with Workshop(folder / "home", ECHO_DB, None if SNR_DB is None else engine(), SNR_DB or 0.0) as workshop:
        job = workshop.start("job", "learning", "--brief", "--no-room-check", "--log", str(log))
        found = Worked(workshop, log, job)
        work(found)
        found.entries = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
        yield found


def work(found: Worked) -> None:
    """From first word to closing seal."""
    interrupt(found)
    for line, answer in BEFORE_THE_WAIT:
        tell(found, line, answer, out=line != "how long")
    pull_out(found)
    found.workshop.hear_out(found.job, "Is the torch bright, or dim?")
    for line, answer in AFTER_IT:
        tell(found, line, answer)
    found.code = found.job.ended()
    found.said = found.workshop.said(found.resumed)


def interrupt(found: Worked) -> None:
    """"stop" is said three seconds into the opening words, and "resume" when the answer has been heard."""
    workshop, job = found.workshop, found.job
    for found.sayings in range(1, SAYINGS + 1):
        found.stop = workshop.interrupt("stop", workshop.air.now, into=3.0)
        if job.printed_within("Paused", found.stop.begin, 3):
            break
    workshop.hear_out(job, "Paused", found.stop.begin, seconds=0)
    found.after_stop = workshop.said(found.stop.end + 0.25)
    found.resumed = workshop.air.now
    tell(found, "resume", "Unroll the tools")


def pull_out(found: Worked) -> None:
    """Both devices are gone for as long as it takes to say so, and are there again."""
    workshop, job = found.workshop, found.job
    workshop.wait_for_speech(workshop.air.now, into=0.5)
    found.pulled = workshop.air.now
    workshop.unplug()
    job.wait_for("The loudspeaker is gone", found.pulled, seconds=2)
    job.wait_for("The microphone is gone", found.pulled, seconds=0.5)
    workshop.plug_in()
    workshop.hear_out(job, "The loudspeaker is back", found.pulled)
    found.after_pulling = workshop.said(found.pulled)


def tell(found: Worked, line: str, answer: str, out: bool = True) -> None:
    """Says `line` until `answer` is given, and hears it out; answers back where that is asked for."""
    workshop, job = found.workshop, found.job
    for _ in range(SAYINGS):
        said, found.sayings = workshop.say(line), found.sayings + 1
        if not job.printed_within(answer, said.begin, 4) and job.printed_within("Did you say", said.begin, 0):
            workshop.hear_out(job, "Did you say", said.begin)
            workshop.say("affirm")
            found.sayings += 1
        if job.printed_within(answer, said.begin, 4):
            if out:
                workshop.hear_out(job, answer, said.begin)
            return
    raise AssertionError(f"{line!r} was not understood:\n{job.printed}")


def test_the_card_is_worked_to_its_seal_and_the_log_holds(worked: Worked) -> None:
    """The program ends well, the log verifies, and the value that was said is in it as it was heard."""
    assert worked.code == 0, worked.job.printed
    assert main(["verify", str(worked.log)]) == 0
    assert [(value["value"], value["ear"]) for value in worked.named("value_logged")] == [("21", "embedded")]


def test_it_takes_the_mechanic_s_words_and_none_of_its_own(worked: Worked) -> None:
    """All that was taken was said, nearly all of it once: of its own voice nothing was taken."""
    least = 2 + len(BEFORE_THE_WAIT + AFTER_IT)
    assert len(worked.taken) <= worked.sayings <= least + OFTENER, f"{worked.taken}\n{worked.job.printed}"


def test_it_falls_silent_in_the_middle_of_a_sentence(worked: Worked) -> None:
    """It gives way while "stop" is spoken above its own voice, answers with one word, and does not go on.

    (One word as it prints it, and no more sound than that word has: what a recogniser writes of one word that stutters on a
    busy machine is three.)"""
    air = worked.workshop.air
    assert not air.sounding(worked.stop.end, worked.stop.end + 0.25).any()
    printed = [line.text for line in worked.job.lines if worked.stop.begin < line.second < worked.resumed]
    assert [text for text in printed if text.startswith("companion:")] == ["companion: Paused."], printed
    assert 0.2 < air.sounding(worked.stop.end + 0.25, worked.resumed).sum() / 100 < 1.2, worked.after_stop
    assert [entry["word"] for entry in worked.named("paused")] == ["stop"]


def test_it_outlives_its_devices(worked: Worked) -> None:
    """What is gone is said within two seconds, and found again: it is heard to say so, and the job goes on."""
    assert {entry["part"] for entry in worked.named("sound_was_lost")} == {"loudspeaker", "microphone"}
    assert {entry["part"] for entry in worked.named("sound_was_found")} == {"loudspeaker", "microphone"}
    assert any(word.startswith("back") for word in words(worked.after_pulling)), worked.after_pulling


def test_what_it_says_is_understood_by_ear(worked: Worked) -> None:
    """The recogniser, unconstrained, writes down what was meant to be said while there was a loudspeaker."""
    meant = [line.text.partition("companion: ")[2] for line in worked.job.lines
             if line.second >= worked.resumed and " is gone" not in line.text and "seconds left" not in line.text]
    assert word_errors(" ".join(meant), worked.said) < WORD_ERRORS, f"{worked.job.printed}\n{worked.said}"
