"""From the written form of an answer to its value: limits folded, names filled in, targets resolved."""
from __future__ import annotations

from typing import Any, Callable, Optional

from companion.core.card import answer_form, answers, form

Fill = Callable[[Optional[str]], str]


def answer_of(step: form.StepForm, reasons: tuple[str, ...], fill: Fill, target: Fill) -> answers.Answer:
    """The answer, the wait or the run of a step; `reasons` are the card's own."""
    if step.run:
        run = step.run
        return answers.RunOf(run.clock, fill(run.ask), run.every, run.within, run.good, run.bad, target(run.silence))
    if step.wait:
        return answers.WaitOf(step.wait)
    answer = step.answer
    if isinstance(answer, answer_form.ChoiceForm):
        return answers.ChoiceOf(answer.choice, fill(answer.name or step.id.replace("-", " ")))
    if isinstance(answer, answer_form.ValueForm):
        return _value(answer, reasons, fill)
    make = _MAKE.get(type(answer))
    if make is not None:
        return make(answer, fill)
    return {"affirm": answers.Affirm(), "nothing": answers.Nothing()}.get(answer or "", answers.Done())  # type: ignore[arg-type]


def _value(answer: answer_form.ValueForm, reasons: tuple[str, ...], fill: Fill) -> answers.ValueOf:
    low, high = answer.low, answer.high
    if answer.nominal is not None and answer.tolerance is not None:
        low, high = answer.nominal - answer.tolerance, answer.nominal + answer.tolerance
    return answers.ValueOf(
        fill(answer.value), answer.unit, low, high, answer.nominal, answer.tolerance, decimals_of(answer),
        answer.reasons if answer.reasons is not None else reasons, answer.uncertainty, answer.tool or "",
        answers.Adaptor(answer.adaptor.length, answer.adaptor.angle) if answer.adaptor else None,
        fill(answer.fastener), answer.no_rise_from or "")


def _cylinder(answer: answer_form.CylinderForm, fill: Fill) -> answers.CylinderOf:
    readings = tuple(answers.Spread(name, spread.most_ratio, spread.most_apart)
                     for name, spread in answer.readings.items())
    return answers.CylinderOf(answer.cylinder, answer.codes, readings, answer.same_as or "")


def _fault(answer: answer_form.FaultForm, fill: Fill) -> answers.FaultOf:
    def sound(given: Optional[answer_form.SoundForm]) -> Optional[answers.Sound]:
        return answers.Sound(given.answer, given.sound) if given else None
    return answers.FaultOf(answer.fault, sound(answer.wiring), sound(answer.driver), sound(answer.swap),
                           answer.resistance or "")


_MAKE: dict[type, Callable[[Any, Fill], answers.Answer]] = {
    answer_form.CountForm: lambda answer, fill: answers.CountOf(fill(answer.count), answer.must_be, answer.same_as or ""),
    answer_form.CodesForm: lambda answer, fill: answers.CodesOf(
        fill(answer.codes), answer.ours, answer.proves or "", answer.against, answer.cleared or ""),
    answer_form.SpellingForm: lambda answer, fill: answers.SpellingOf(
        fill(answer.spelling), *lengths(answer), answer.vin, answer.same_as or "", answer.last or 0),
    answer_form.ToolForm: lambda answer, fill: answers.ToolOf(answer.tool, answer.kind),
    answer_form.CylinderForm: _cylinder,
    answer_form.FaultForm: _fault,
}


def lengths(answer: answer_form.SpellingForm) -> tuple[int, int]:
    """The least and the most characters: a vehicle identification number has 17, the last few are as many as asked."""
    if answer.vin:
        return 17, 17
    return (answer.last, answer.last) if answer.last else (answer.least, answer.most)


def decimals_of(answer: answer_form.ValueForm) -> int:
    """The decimals given, or as many as the limits are written with."""
    return answer.decimals if answer.decimals is not None else most_decimals(answer)


def most_decimals(answer: answer_form.ValueForm) -> int:
    """The most decimals that a limit is written with: 7.50 has two."""
    limits = (answer.low, answer.high, answer.nominal, answer.tolerance)
    return max((-int(limit.as_tuple().exponent) for limit in limits if limit is not None), default=0)
