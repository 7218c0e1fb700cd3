"""Harmless things in a good job: something misheard, said again, asked or put right, a step done over, a break.

None of them is anything that a supervisor should find; a rule that objects to one is wrong, or this is."""
from __future__ import annotations

from typing import TYPE_CHECKING, Callable, Optional

from companion.core import events as ev
from companion.core.card import CountOf, Done, SpellingOf, ToolOf, ValueOf
from companion.core.job.measuring import target_of
from companion.core.job.state import Job
from companion.core.numbers import say_number
from companion.core.spelling import say_spelling
from companion.office.fleet.acts import Act, Mumble, Say
from companion.office.fleet.answers import spelled_text
from companion.office.fleet.readings import judged
from companion.office.fleet.road import FAR
from companion.office.fleet.words import spelled_words, value_words

if TYPE_CHECKING:
    from companion.office.fleet.mechanic import Mechanic

Slip = Callable[["Mechanic", Job], Optional[Act]]
_BREAK = 0.0012
"""Chance at each step of a good job that it is left for a while, once at most."""
_DIFFERENT = dict(zip("0123456789BDMNFS", "4567890123DBNMSF"))
"""Characters that are taken for another."""
_ASKED = {"asking": ("repeat", "say again", "options", "where was I", "brief words", "full words", "timer five minutes"),
          "caution": ("repeat",), "waiting": ("how long", "time left", "detail")}
"""By mode."""


def slip(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """Now and then one of them; None as a rule. Where something is planted, only talk, lest it come to nothing."""
    if job.mode not in ("asking", "caution", "waiting") or job.step.on_the_road or job.failures:
        return None
    good = mechanic.plan.plant is None
    if good and mechanic.talk.random() < _BREAK and job.mode == "asking" and job.trail[1:] and mechanic.once("break"):
        mechanic.returns = True
        return mechanic.say(job, "stop job")
    if mechanic.talk.random() >= mechanic.plan.fitter.talk:
        return None
    fitting = _BY_ANSWER.get(type(job.step.answer), ()) if good and job.mode == "asking" else ()
    return mechanic.talk.choice((*_TALK, *fitting, *fitting))(mechanic, job)


# -- talk --------------------------------------------------------------------------------------------------------------

def _misheard(mechanic: "Mechanic", job: Job) -> Act:
    return Mumble(mechanic.work_ms(job))


def _ask(mechanic: "Mechanic", job: Job) -> Act:
    """A question to the companion, which changes nothing."""
    return Say(mechanic.talk.choice(_ASKED[job.mode]), mechanic.think_ms() + mechanic.talk.randrange(10_000))


def _voice(mechanic: "Mechanic", job: Job) -> Act:
    return Say(mechanic.talk.choice(("slower", "faster", "louder", "quieter")), mechanic.think_ms())


_TALK: tuple[Slip, ...] = (_misheard, _misheard, _ask, _voice)


# -- by what the step asks ---------------------------------------------------------------------------------------------

def _pause(mechanic: "Mechanic", job: Job) -> Act:
    return Say("pause", mechanic.think_ms() + mechanic.talk.randrange(18_000))


def _unsure(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The ear asks back whether the step is done."""
    if job.step.personal or mechanic.plan.typed:
        return None
    return mechanic.say(job, "next", sure=False, score=mechanic.talk.randrange(55, 80))


def _done_over(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """One step back, where nothing was measured or counted, and once more."""
    before = job.card.step(job.before) if job.before else None
    if before is None or not isinstance(before.answer, Done) or before.starts or before.ends_safe or job.step.cautions:
        return None
    return Say("previous step", mechanic.think_ms()) if mechanic.once(f"over {job.at}") else None


def _left_open(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """It is done before the next start or drive."""
    return mechanic.say(job, "leave open") if job.step.may_leave_open and not job.return_to else None


def _miscount(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """One is counted wrong; the companion asks again."""
    must_be = target_of(job, job.step.answer)
    if not must_be or "wrong" in job.step.then or not mechanic.once(f"miscount {job.at}"):
        return None
    return mechanic.say(job, say_number(str(must_be - 1)))


def _other_tool(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """The first tool to hand will not do."""
    there = [tool.name for tool in job.tools.of_kind(job.step.answer.kind)] if job.tools else []
    return mechanic.say(job, there[-1]) if there[1:] and mechanic.once(f"tool {job.at}") else None


def _read_over(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """A reading too close to its limit is read again when the companion asks; pressure that is left is waited out."""
    must = job.step.must and "outside" in job.step.then
    if not mechanic.once(f"over {job.at}") or must and mechanic.road.how_far(job.step, "outside") >= FAR:
        return None
    digits = judged(job, "outside" if must else "too close", upward=True)
    return mechanic.say(job, value_words(digits, job.step.answer.unit, mechanic.talk)) if digits else None


def _misspelt(mechanic: "Mechanic", job: Job) -> Optional[Act]:
    """One character is taken for another; the read-back shows it."""
    right = spelled_text(mechanic, job)
    places = [place for place, character in enumerate(right) if character in _DIFFERENT]
    if not places or not mechanic.once(f"misspelt {job.at}"):
        return None
    place = mechanic.talk.choice(places)
    return mechanic.say(job, spelled_words(right[:place] + _DIFFERENT[right[place]] + right[place + 1:]))


def correction(mechanic: "Mechanic", job: Job) -> str:
    """What is said when a spelling is read back: "affirm", or what puts one wrong character right."""
    said, right = ev.plain(job.asked.value), spelled_text(mechanic, job)
    wrong = [place for place, (one, two) in enumerate(zip(said, right)) if one != two]
    if len(said) != len(right) or len(wrong) != 1:
        return "affirm"
    return f"correction place {say_number(str(wrong[0] + 1))} {say_spelling(right[wrong[0]]).lower()}"


_BY_ANSWER: dict[type, tuple[Slip, ...]] = {
    Done: (_pause, _unsure, _unsure, _done_over, _left_open), CountOf: (_miscount,), ToolOf: (_other_tool,),
    ValueOf: (_read_over,), SpellingOf: (_misspelt, _misspelt)}
