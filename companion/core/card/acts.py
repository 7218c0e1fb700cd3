"""What the keys of one step mean together: one answer, cautions before hazards, duties, bounds, branches."""
from __future__ import annotations

from typing import Iterator, Optional

from companion.core.card import answer_form, form
from companion.core.card.answers import Answer, misfits, outcomes
from companion.core.card.build_answer import answer_of
from companion.core.card.faults import meant
from companion.core.card.sheet import Place, Sheet
from companion.core.card.text import Fault


def act_faults(sheet: Sheet) -> Iterator[Fault]:
    """Every step whose keys do not fit together."""
    for place in sheet.steps():
        if place.sound:
            for key, text in (*_shape(place), *_duties(place.step), *_hold(place.step), *_loops(place.step),
                              *_run(place.step), *_misfits(place.step)):
                yield sheet.fault(text, *place.path, key)
            yield from _branches(sheet, place)


def _shape(place: Place) -> Iterator[tuple[str, str]]:
    step = place.step
    given = [key for key in ("answer", "wait", "run") if getattr(step, key)]
    if len(given) != 1:
        found = " and ".join(given) or "none"
        yield given[-1] if given else "id", f"a step must have exactly one of answer, wait and run, not {found}"
    if not step.say and not step.wait:
        yield "id", 'the key "say" must stand here, but is missing'


def _duties(step: form.StepForm) -> Iterator[tuple[str, str]]:
    if step.hazardous and not step.cautions:
        yield "hazardous", "a hazardous step must have cautions, but has none"
    if step.must and step.may_leave_open:
        yield "may_leave_open", f'a step with "must: {step.must}" must not be left open'
    if step.may_leave_open and step.then:
        yield "then", "a step that may be left open must not branch: it is done at a gate, and the job goes on from there"
    if isinstance(step.answer, answer_form.CountForm) and step.answer.same_as and step.answer.must_be is not None:
        yield "answer", "a count must have must_be or same_as, not both"
    if isinstance(step.answer, answer_form.SpellingForm) and step.answer.last and not step.answer.same_as:
        yield "answer", "last must stand with same_as, whose last characters it means"
    if step.shows_new and (step.answer != "affirm" or "negative" not in step.then):
        yield "shows_new", "parts are shown to be new by affirm, and then must say where negative leads"
    if step.must == "count" and not isinstance(step.answer, answer_form.CountForm):
        yield "must", 'a step with "must: count" must ask for a count'
    if step.must == "leak-check" and not (step.run or isinstance(step.answer, answer_form.ChoiceForm)):
        yield "must", 'a step with "must: leak-check" must be a run or ask for a choice'
    if step.must and step.answer == "nothing":
        yield "must", f'a step with "must: {step.must}" must be answered, but asks for nothing'
    if step.must and step.answer == "affirm" and "negative" not in step.then:
        yield "must", f'a step with "must: {step.must}" must say under then where negative leads'
    if step.must == "leak-check" and isinstance(step.answer, answer_form.ChoiceForm) and not step.then:
        yield "must", "a leak must lead somewhere: name its answer under then"
    if step.personal and isinstance(step.answer, answer_form.Form) and not isinstance(
            step.answer, (answer_form.ValueForm, answer_form.SpellingForm)):
        yield "personal", "a personal answer must be a value or a spelling: others stand in the log's own lines"
    if step.cannot_undo and step.answer != "done":
        yield "cannot_undo", "an act that cannot be undone must be answered with done, which affirm then confirms"


def _hold(step: form.StepForm) -> Iterator[tuple[str, str]]:
    """Nobody gets past a hold point but by spelling who releases it, and that is not who works."""
    if not step.hold:
        return
    answer = step.answer
    if not isinstance(answer, answer_form.SpellingForm):
        yield "hold", "a hold point must ask for a spelling: the initials of whoever releases it"
    elif answer.vin or answer.same_as:
        yield "answer", "a hold point must ask for the initials of whoever releases it, not vin or same_as"
    elif answer.spelling == "mechanic":
        yield "answer", 'a hold point must not call who releases it "mechanic", who is at work; name it "released by"'
    if step.may_leave_open:
        yield "may_leave_open", "a hold point must not be left open"
    if step.at_most is not None:
        yield "at_most", "a hold point must not have at_most: once that is used up, the job would pass it by"
    if step.on_the_road:
        yield "on_the_road", "a hold point must be released at a stand, not on the road"


def _loops(step: form.StepForm) -> Iterator[tuple[str, str]]:
    if step.at_most == 0:
        yield "at_most", "at_most must be 1 or more, not 0"
    if step.at_most is not None and not step.after_that:
        yield "at_most", "a step with at_most must say where to go after_that, but does not"
    if step.after_that and step.at_most is None:
        yield "after_that", "a step with after_that must have at_most, but has none"


def _misfits(step: form.StepForm) -> Iterator[tuple[str, str]]:
    """What does not fit must lead somewhere; the next step is for what does."""
    for outcome in misfits(_value_of(step)):
        if outcome not in step.then:
            yield "answer", f'the outcome "{outcome}" must lead somewhere: name it under then'


def _run(step: form.StepForm) -> Iterator[tuple[str, str]]:
    for answer in step.run.bad if step.run else ():
        if answer not in step.then:
            yield "run", f'the bad answer "{answer}" must lead somewhere: name it under then'


def _outcomes(step: form.StepForm) -> tuple[str, ...]:
    return outcomes(_value_of(step), step.must or "")


def _value_of(step: form.StepForm) -> Answer:
    """The answer of a written step, with its names as they stand."""
    return answer_of(step, (), lambda text: text or "", lambda target: target or "")


def has_limits(answer: answer_form.ValueForm) -> bool:
    """Whether any limit is given, by itself or by an earlier value."""
    return bool(answer.no_rise_from) or any(
        limit is not None for limit in (answer.low, answer.high, answer.nominal, answer.tolerance))


def _branches(sheet: Sheet, place: Place) -> Iterator[Fault]:
    fit = _outcomes(place.step)
    for key in place.step.then:
        if key not in fit:
            yield sheet.fault(_misfit(place.step, key, fit), *place.path, "then", key)


def _misfit(step: form.StepForm, key: str, fit: tuple[str, ...]) -> str:
    if isinstance(step.answer, answer_form.CountForm) and step.must and key == "wrong":
        return 'a count with "must" is taken again until it is right, so then must not name "wrong"'
    named: Optional[str] = ", ".join(fit)
    return (f'then must name answers of this step ({named}), not "{key}"' if named else
            f'this step has no answers to branch on, so then must not name "{key}"') + meant(key, fit)
