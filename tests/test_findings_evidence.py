"""Cylinder and fault as a supervisor sees them: what was named, against codes, readings and signs."""
from __future__ import annotations

import pytest

from account_maker import made, shown
from companion.core import events as ev
from companion.office.findings.cylinders import evidence_against_answers
from golden import injector_at

WRONG, DISAGREES = "wrong-cylinder: AnswerGiven ", "evidence-disagrees: "


def suspected(said: str = "cylinder three", code: str = "P0269", volumes=("22", "24", "61", "23"),
              quantities=("6.2", "6.4", "9.8", "6.1")):
    """The answer to which cylinder, after other codes and readings than were logged."""
    job = made(injector_at("suspect").say("cylinder three"))
    for name, values in (("fuel quantity", quantities), ("leak-off", volumes)):
        places = [place for place, event in enumerate(e for e in job.events if isinstance(e, ev.ValueLogged))
                  if event.name == name]
        for place, value in zip(places, values):
            job = job.but(ev.ValueLogged, at=place, value=value, said=value)
    codes = tuple(code.split())
    return job.but(ev.CodesLogged, step="codes-before", codes=codes).but(ev.AnswerGiven, answer=said)


def unplugged(*said: str):
    return made(injector_at("unplugged").say(*said))


def proved(*codes: str, before: str = "P0269"):
    """Our own test's codes, with the plug of cylinder three off."""
    job = made(injector_at("induced-code").say("no codes"))
    return job.but(ev.CodesLogged, codes=codes).but(ev.CodesLogged, step="codes-before", codes=(before,))


def judged(said: str, pins: str = "clean", driver: str = "steady peaks", ohms: str = "1.6"):
    """The verdict on the part, after other signs than were logged."""
    job = made(injector_at("verdict").say("injector"))
    job = job.but(ev.AnswerGiven, step="pins", answer=pins).but(ev.AnswerGiven, step="driver", answer=driver)
    return job.but(ev.ValueLogged, step="coil", value=ohms, said=ohms).but(ev.AnswerGiven, answer=said)


EVEN, QUIET = ("22", "24", "23", "23"), ("6.2", "6.4", "6.3", "6.1")
CASES = [
    ("all point to what was said", lambda: suspected(), []),
    ("another one was said", lambda: suspected("cylinder two"), [f"{WRONG}suspect"]),
    ("by its place", lambda: suspected("third from the belt end"), []),
    ("another one by its place", lambda: suspected("second from the belt end"), [f"{WRONG}suspect"]),
    ("the code alone", lambda: suspected(volumes=EVEN, quantities=QUIET), []),
    ("the readings alone", lambda: suspected(code=""), []),
    ("the readings alone, another one said", lambda: suspected("cylinder one", code=""), [f"{WRONG}suspect"]),
    ("one of the readings alone", lambda: suspected(code="", quantities=QUIET), []),
    ("nothing points anywhere", lambda: suspected(code="", volumes=EVEN, quantities=QUIET),
     [f"{DISAGREES}AnswerGiven suspect"]),
    ("two codes", lambda: suspected(code="P0269 P0263"), [f"{DISAGREES}AnswerGiven suspect"]),
    ("code against readings", lambda: suspected(code="P0263"), [f"{DISAGREES}AnswerGiven suspect"]),
    ("readings against each other", lambda: suspected(code="", volumes=("61", "24", "22", "23")),
     [f"{DISAGREES}AnswerGiven suspect"]),
    ("said that they disagree, and they do", lambda: suspected("they disagree", code="P0263"),
     [f"{DISAGREES}AnswerGiven suspect"]),
    ("said that they disagree, and they do not", lambda: suspected("they disagree"),
     [f"{DISAGREES}AnswerGiven suspect"]),
    ("agreed by the log's own verdict only",
     lambda: made(injector_at("proof-rest")).but(ev.AnswerGiven, step="suspect", answer="cylinder four").but(
         ev.EvidenceCompared, verdict="agree"), [f"{WRONG}suspect"]),
    ("a code that is none", lambda: suspected(code="Q9999"), []),
    ("a cylinder that there is not", lambda: suspected("cylinder nine"), [f"{DISAGREES}AnswerGiven suspect"]),
    ("the same plug", lambda: unplugged("third from the belt end"), []),
    ("another plug", lambda: unplugged("cylinder two"), [f"{WRONG}unplugged"]),
    ("another plug, put right", lambda: unplugged("cylinder two", "key is off", "next", "key is off", "next",
                                                  "cylinder three"),
     [f"{WRONG}unplugged, AnswerGiven unplugged"]),
    ("no cylinder named before", lambda: unplugged("cylinder two").without(ev.AnswerGiven, step="suspect"), []),
    ("our code names the plug", lambda: proved("P0203"), []),
    ("and others beside it", lambda: proved("P0203", "P0300"), []),
    ("our code names another", lambda: proved("P0202"), [f"{DISAGREES}CodesLogged induced-code"]),
    ("both", lambda: proved("P0203", "P0202"), [f"{DISAGREES}CodesLogged induced-code"]),
    ("no code came", lambda: proved(), [f"{DISAGREES}CodesLogged induced-code"]),
    ("a code of no circuit", lambda: proved("P0300"), [f"{DISAGREES}CodesLogged induced-code"]),
    # the complaint itself was that circuit: it proves less, and is let pass as on the job
    ("it stood there before", lambda: proved("P0203", before="P0203"), []),
    ("the injector, by sound signs", lambda: judged("injector"), []),
    ("the wiring, though it is sound", lambda: judged("wiring"), [f"{DISAGREES}AnswerGiven verdict"]),
    ("the injector, though pins are damaged", lambda: judged("injector", pins="damaged"),
     [f"{DISAGREES}AnswerGiven verdict"]),
    ("the wiring, as its pins are damaged", lambda: judged("wiring", pins="damaged"), []),
    ("the controller, by a flat line", lambda: judged("controller", driver="flat line"), []),
    ("the injector, by its resistance", lambda: judged("injector", ohms="2.5"), []),
    ("signs that contradict", lambda: judged("cannot tell", pins="damaged", ohms="2.5"), []),
    ("the injector, though signs contradict", lambda: judged("injector", pins="damaged", ohms="2.5"),
     [f"{DISAGREES}AnswerGiven verdict"]),
    # the resistance was called inside in the log; the reading itself decides
    ("a resistance called inside", lambda: judged("wiring", pins="damaged", ohms="2.5").but(
        ev.ValueLogged, step="coil", verdict="inside"), [f"{DISAGREES}AnswerGiven verdict"]),
]


@pytest.mark.parametrize("what, job, lines", CASES, ids=[case[0] for case in CASES])
def test_what_was_named_is_held_against_the_evidence(what, job, lines) -> None:
    """Worked out again from codes, readings and answers; no verdict in the log is believed."""
    assert shown([evidence_against_answers], job()) == lines


SAID = [
    (lambda: suspected("cylinder two"), 'The mechanic named cylinder two as "suspect cylinder"; codes and readings '
     "point to cylinder three. It was not put right before this log ends."),
    (lambda: unplugged("cylinder two"), 'The mechanic named cylinder two as "unplugged"; "suspect cylinder" had been '
     "cylinder three, as codes and readings show. It was not put right before this log ends."),
    (lambda: suspected(code="P0263"), "Codes and readings do not point to one cylinder: The codes name cylinder 1. The "
     "readings point to cylinder 3. Suspect cylinder was answered: cylinder three."),
    (lambda: proved("P0202"), "Our own test's codes (P0202) do not prove the cylinder: The new codes name cylinder 2."),
    (lambda: judged("wiring"), "Verdict was answered: wiring. But what was found points to: injector."),
]


@pytest.mark.parametrize("job, said", SAID, ids=[case[1][:60] for case in SAID])
def test_the_sentences_say_what_disagrees(job, said) -> None:
    """Both sides of it."""
    assert [one.said for one in evidence_against_answers(job().account())] == [said]


PUT_RIGHT = ("cylinder two", "key is off", "next", "key is off", "next", "cylinder three")


def wrong(job, **found):
    return next(one for one in evidence_against_answers(job.account(**found)) if one.name == "wrong-cylinder")


def test_a_wrong_cylinder_tells_where_it_was_put_right() -> None:
    """Both lines, rising, and the answer that fits."""
    found = wrong(unplugged(*PUT_RIGHT))
    assert len(found.lines) == 2 and found.lines[0] < found.lines[1]
    assert found.said.endswith(f'It was put right at line {found.lines[1]}: "unplugged" was answered again, cylinder '
                               "three.")


def test_a_wrong_cylinder_that_stays_is_said_to_stay() -> None:
    """"Never" only of a log that holds and has its end; said right once and wrong again is not put right."""
    assert wrong(unplugged("cylinder two"), finished=True).said.endswith("show. It was never put right.")
    assert "before this log ends" in wrong(unplugged("cylinder two"), finished=True, holds=False).said
    again = unplugged(*PUT_RIGHT).but(ev.AnswerGiven, step="unplugged", answer="cylinder four")
    assert len(wrong(again).lines) == 1
