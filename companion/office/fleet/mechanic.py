"""The made mechanic: driven by what the job asks at this moment, not by a list of lines, so that any card is worked."""
from __future__ import annotations

from typing import Callable, Optional

from companion.core.card import Step
from companion.core.job.state import Job
from companion.office.fleet import slips
from companion.office.fleet.acts import Act, ComeBack, Let, Say
from companion.office.fleet.answers import answer_words
from companion.office.fleet.depot import fitters
from companion.office.fleet.pace import hands_on_ms
from companion.office.fleet.plan import Plan
from companion.office.fleet.readings import reading_words
from companion.office.fleet.road import Road, road_of
from companion.office.fleet.words import spelled_words

_READS = 3.0
"""Words a second that somebody reads who types."""

_RELIEVED = 0.3
"""Chance that another mechanic goes on with a job that was left."""


class Mechanic:
    """Works one job as planned. `act` is asked again and again for the next thing to do."""

    def __init__(self, plan: Plan) -> None:
        self.plan, self.random, self.talk = plan, plan.random("work"), plan.random("talk")
        self.road: Road = road_of(plan.edition.text)
        self.memory: dict[str, int] = {}
        """How often something was done already."""
        self.chosen: dict[str, list[str]] = {}
        """Step to what was answered there."""
        self.target: Optional[Step] = self._target()
        self.planted = plan.plant is None or not plan.plant.acts
        """Whether what was to go wrong has."""
        self.returns = False
        """Whether a job that is being left will be gone on with."""
        self._shown = 0
        self._worked: tuple[object, ...] = ()

    def act(self, job: Job, shown: int) -> Optional[Act]:
        """What to do now; None where there is nothing more to do. `shown` words were said or shown just before."""
        self._shown = shown
        plant = self.plan.plant
        act = plant.act(self, job) if plant else None
        return act or slips.slip(self, job) or self.usual(job)

    def usual(self, job: Job) -> Optional[Act]:
        """What a careful mechanic does now."""
        return _USUAL[job.mode](self, job)

    # -- for plants and slips ------------------------------------------------------------------------------------------

    def did(self) -> None:
        """What was to go wrong has gone wrong."""
        self.planted = True

    def here(self, job: Job, mode: str = "asking") -> bool:
        """Whether the job stands at the step of the plant, in that mode."""
        return self.target is not None and job.at == self.target.id and job.mode == mode

    def once(self, what: str) -> bool:
        """True the first time."""
        self.memory[what] = self.memory.get(what, 0) + 1
        return self.memory[what] == 1

    def say(self, job: Job, words: str, **how: object) -> Say:
        """The words, after the work that the step needs."""
        how.setdefault("after_ms", self.work_ms(job))
        return Say(words, **how)  # type: ignore[arg-type]

    def work_ms(self, job: Job) -> int:
        """The work of the step, once at each time that it is begun; then only thinking."""
        place = (job.at, job.visits.get(job.at), len(job.trail))
        if job.mode != "asking" or place == self._worked:
            return self.think_ms()
        self._worked = place
        return self.think_ms() + hands_on_ms(job.card, job.step, self.plan.fitter.pace, self.random)

    def think_ms(self) -> int:
        """Between what the companion has said and an answer that needs no work; reading takes its time, too."""
        reading = round(1000 * self._shown / _READS) if self.plan.typed else 0
        return reading + self.random.randrange(600, 2600)

    def _target(self) -> Optional[Step]:
        places = self.plan.plant.places(self.road) if self.plan.plant else ()
        return self.random.choice(places) if places else None

    # -- the usual, by mode --------------------------------------------------------------------------------------------

    def _ended(self, job: Job) -> Optional[Act]:
        """A job that is left for a break is gone on with."""
        if not (job.left and self.returns):
            return None
        self.returns = False
        return ComeBack(self.random.randrange(25 * 60_000, 80 * 60_000))

    def _asking(self, job: Job) -> Act:
        if job.step.on_the_road:
            return self._drive(job)
        return self.say(job, answer_words(self, job))

    def _drive(self, job: Job) -> Act:
        """Until every clock is over, and somewhat longer."""
        left = max((clock.left(job.last_up_ms) for clock in job.clocks.values()), default=0)
        return Say("next", left + self.random.randrange(60_000, 6 * 60_000))

    def _caution(self, job: Job) -> Act:
        return self.say(job, job.card.cautions[job.cautions[0]].answer)

    def _assent(self, job: Job) -> Act:
        """What he wanted is affirmed, a spelling put right; a value outside is read again, unless he gave a reason."""
        if job.asked.about in ("outside", "too close") and not job.asked.reason:
            return self._read_again(job)
        misspelt = job.asked.about == "spelling" and job.begun and not self.plan.plant
        return self.say(job, slips.correction(self, job) if misspelt else "affirm")

    def _read_again(self, job: Job) -> Act:
        return self.say(job, reading_words(self, job), after_ms=self.random.randrange(4000, 20_000))

    def _watching(self, job: Job) -> Act:
        """A question is answered with the lamp and the mirror in hand; else he looks."""
        if not job.watch.put:
            return Let()
        return Say(self.random.choice(job.step.answer.good), self.random.randrange(1500, 9000))

    def _proving(self, job: Job) -> Act:
        """The same goes on, or, where he may be relieved, another."""
        if job.proofs[0] != "mechanic":
            return self.say(job, "affirm")
        relieved = not self.plan.plant and self.talk.random() < _RELIEVED
        return self.say(job, "taking over" if relieved else "same mechanic")

    def _initials(self, job: Job) -> Act:
        others = [fitter for fitter in fitters(self.plan.seed) if fitter != self.plan.fitter]
        return self.say(job, spelled_words(self.talk.choice(others).initials))


_USUAL: dict[str, Callable[[Mechanic, Job], Optional[Act]]] = {
    "ended": Mechanic._ended, "asking": Mechanic._asking, "caution": Mechanic._caution, "assent": Mechanic._assent,
    "reason": Mechanic._read_again, "waiting": lambda mechanic, job: Let(), "watching": Mechanic._watching,
    "proving": Mechanic._proving, "initials": Mechanic._initials,
    "paused": lambda mechanic, job: Say("resume", mechanic.random.randrange(15_000, 120_000)),
    "emergency": lambda mechanic, job: Say("emergency over", mechanic.random.randrange(90_000, 900_000)),
}
