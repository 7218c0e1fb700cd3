"""What makes sense to say now: the table's acts for the present mode, each as a grammar rule."""
from __future__ import annotations

from typing import Optional

from companion.core.card import (
    Affirm, Card, ChoiceOf, CodesOf, CountOf, CylinderOf, FaultOf, RunOf, SpellingOf, ToolOf, ValueOf)
from companion.core.commands import RULES, reason_rule
from companion.core.grammar import Choice, Listen, Maybe, Number, Phrase, Rule, Sequence, Spelling, Unit
from companion.core.job.asking_back import DIGIT_WORDS
from companion.core.job.evidence import cylinder_options
from companion.core.job.state import Job, Watch
from companion.core.job.table import acts
from companion.core.toolbox import NONE_OF_THESE, ToolList
from companion.trade.units import meanings, same_quantity


def listen(job: Job) -> Listen:
    """Every rule that is live now."""
    rules = (_rule(job, act) for act in acts(job.mode))
    return Listen(tuple(rule for rule in rules if rule is not None))


def listen_for(card: Card, step_id: str, tools: Optional[ToolList] = None) -> Listen:
    """What is listened for while `step_id` waits for its answer (its cautions already acknowledged)."""
    job = Job(card=card, tools=tools, brief=False, at=step_id, begun=True, watch=Watch(1, asked=True, put=True))
    return listen(job)


def _phrases(texts: tuple[str, ...]) -> Choice:
    return Choice(tuple(Phrase(text) for text in texts), "choice")


def _rule(job: Job, act: str) -> Optional[Rule]:
    """The rule of one act, or None where the present step has no use for it."""
    if act in _MADE:
        return _MADE[act](job)
    if act in ("affirm", "negative") and job.mode == "asking" and not isinstance(job.step.answer, Affirm):
        return None
    if act == "leave_open" and not job.step.may_leave_open:
        return None
    return RULES[act]


def _acknowledge(job: Job) -> Rule:
    words = job.card.cautions[job.cautions[0]].answer
    return Rule("acknowledge", Phrase(words), True, words)


def _choice(job: Job) -> Optional[Rule]:
    options = choices(job)
    return Rule("choice", _phrases(options), True, ", or ".join(options)) if options else None


def choices(job: Job) -> tuple[str, ...]:
    """The phrases that the present step may be answered with; () where it is no choice."""
    answer = job.step.answer
    if isinstance(answer, ToolOf):
        return (*(tool.name for tool in (job.tools.of_kind(answer.kind) if job.tools else ())), NONE_OF_THESE)
    if isinstance(answer, CylinderOf):
        return cylinder_options(job, answer)
    return answer.options if isinstance(answer, (ChoiceOf, FaultOf)) else ()


def _value(job: Job) -> Optional[Rule]:
    """Where a value or a count is asked for, the bare number will do; elsewhere it takes "log value" and a unit."""
    answer = job.step.answer
    asked_for_it = job.asked is None or job.asked.rule == "value"
    if isinstance(answer, ValueOf) and asked_for_it:
        signed = answer.low is None or answer.low < 0
        number = Number(signed=signed)
        unit = Maybe(Unit(same_quantity(answer.unit)))
        return Rule("value", Sequence((Maybe(Phrase("log value")), number, unit)), True, "the value, with its unit")
    if isinstance(answer, CountOf) and asked_for_it:
        number = Number(signed=False, decimals=0, most=9999)
        return Rule("value", Sequence((Maybe(Phrase("log value")), number)), True, "the count")
    return RULES["value"] if job.asked is None else None


def _codes(job: Job) -> bool:
    return isinstance(job.step.answer, CodesOf)


def _code(job: Job) -> Optional[Rule]:
    return Rule("code", Spelling(5, 5), True, "a fault code") if _codes(job) else None


def _no_more(job: Job) -> Optional[Rule]:
    return RULES["no_more"] if _codes(job) else None


def _spelled(job: Job) -> Optional[Rule]:
    if job.mode == "initials":
        return Rule("spelled", Spelling(2, 4), True, "your initials, spelled")
    answer = job.step.answer
    if not isinstance(answer, SpellingOf):
        return None
    return Rule("spelled", Spelling(answer.least, answer.most), True, "the spelling")


def _correction(job: Job) -> Optional[Rule]:
    if job.mode == "digits":
        return Rule("correction", Phrase("correction"), True, "correction")
    if job.asked is not None and job.asked.rule != "value":
        return None
    if _codes(job):
        return Rule("correction", Sequence((Phrase("correction"), Maybe(Spelling(5, 5)))), True, "correction, and the code")
    return RULES["correction"]


def _correct_place(job: Job) -> Optional[Rule]:
    return RULES["correct_place"] if job.asked is not None and job.asked.about == "spelling" else None


def _okay(job: Job) -> Optional[Rule]:
    """Only while a check waits or the alarm sounds: every phrase that is live can be taken for another."""
    return RULES["okay"] if job.lone is not None and (job.lone.answer_by_up or job.lone.level) else None


def _alarm_over(job: Job) -> Optional[Rule]:
    return RULES["alarm_over"] if job.lone.answered else None


def _check_every(job: Job) -> Optional[Rule]:
    return RULES["check_every"] if job.lone is not None else None


def _reason(job: Job) -> Rule:
    own = job.card.reasons
    answer = job.step.answer
    if job.asked.about == "end the wait":
        own = job.card.clocks[answer.clock].reasons + own
    elif isinstance(answer, ValueOf):
        own = answer.reasons + own
    return reason_rule(own, any_words=not job.step.personal)  # a reason stands in the log's own lines


def _unit(job: Job) -> Rule:
    return Rule("unit", Unit(meanings("?" + job.asked.value, job.step.answer.unit)), True, "the unit")


def _digit(job: Job) -> Rule:
    return Rule("digit", Choice(tuple(Phrase(word) for word in DIGIT_WORDS), "digit"), True, "one digit")


def _run_answer(job: Job) -> Optional[Rule]:
    answer = job.step.answer
    if not isinstance(answer, RunOf):
        return None
    options = answer.good + answer.bad
    return Rule("run_answer", _phrases(options), True, ", or ".join(options))


_MADE = {
    "acknowledge": _acknowledge, "choice": _choice, "value": _value, "code": _code, "no_more": _no_more,
    "spelled": _spelled, "correction": _correction, "correct_place": _correct_place, "reason": _reason, "unit": _unit,
    "digit": _digit, "run_answer": _run_answer, "okay": _okay, "alarm_over": _alarm_over, "check_every": _check_every,
}
