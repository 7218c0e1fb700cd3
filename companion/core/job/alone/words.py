"""What is said, sounded and sent to look after a lone mechanic. Derived from the event and the state after it."""
from __future__ import annotations

from typing import Callable

from companion.core import events as ev
from companion.core.job.effects import Effect, Hush, Message, Tone
from companion.core.job.alone.state import TOP
from companion.core.job.prompt import are_you_okay, prompt, say
from companion.core.job.state import Job
from companion.core.job.telling import duration
from companion.core.numbers import say_number


# -- agreeing ----------------------------------------------------------------------------------------------------------

def _agreed(event: ev.LoneWorkAgreed, job: Job) -> tuple[Effect, ...]:
    if not event.every_ms:
        called = f"When you say emergency, {_who(event.contacts)}." if event.contacts else "No one is called, whatever you say."
        return (*say("Nobody checks on you in this job.", called), *_call_by(event, job))
    often = f"I check on you when I hear nothing for {duration(event.every_ms)}."
    if event.by == "mechanic":
        return say(often)
    risky = f"While there is more risk, {duration(event.at_risk_ms)}." if event.at_risk_ms != event.every_ms else ""
    return (*say(often, risky, _who_is_called(event.contacts)), *_call_by(event, job))


def _who_is_called(contacts: int) -> str:
    if not contacts:
        return "If you do not answer, an alarm sounds, but no one is called. Tell somebody where you are."
    return f"If you do not answer, an alarm sounds, and then {_who(contacts)}."


def _who(contacts: int) -> str:
    return "one contact gets a message" if contacts == 1 else f"{say_number(str(contacts))} contacts get a message"


def _call_by(event: ev.LoneWorkAgreed, job: Job) -> tuple[Effect, ...]:
    """The message needs no living device later: whoever has it calls when the time has come."""
    if not event.call_by:
        return ()
    if not event.contacts:
        return say(f"Tell somebody now: call me at {event.call_by_said}. I cannot send it.")
    return (Message("call by", _text(job, "works alone", f"Call at {event.call_by_said}, if you have heard nothing until then")),
            *say(f"Your contact calls at {event.call_by_said}, if nothing was heard."))


# -- checks and the alarm ----------------------------------------------------------------------------------------------

_SOON = "In twenty seconds help is called."


def _rung(event: ev.AlarmRaised, job: Job) -> tuple[Effect, ...]:
    lone = job.lone
    soon = "" if event.times != TOP or lone.called else _SOON if lone.contacts else "No one is called from here."
    return (Hush(), Tone(f"alarm {event.level}"), *say(are_you_okay(job), soon))


def _ended(event: ev.AlarmEnded, job: Job) -> tuple[Effect, ...]:
    clear = _all_clear(job) if job.lone.times > TOP else ()
    return (Hush(), *clear, *say("The alarm is over."), *prompt(job))


def called(event: ev.HelpCalled, job: Job) -> tuple[Effect, ...]:
    """The message, and that it goes."""
    what = "calls an emergency" if event.why == "emergency" else "does not answer"
    return (Message("help", _text(job, what, "Act as agreed, now")), *say("Help is being called."))


def emergency(job: Job) -> tuple[Effect, ...]:
    """The alarm at its loudest, once: whoever is hurt has to hear the words, and may be on the telephone."""
    alone = job.lone is not None and not job.lone.contacts
    return (Tone("alarm 3" if job.lone is not None else "alarm"), *prompt(job),
            *say("No one is called from here. Call for help yourself." if alone else ""))


def all_clear(job: Job) -> tuple[Effect, ...]:
    """After an emergency, where somebody was told of it."""
    return _all_clear(job) if job.lone is not None else ()


def _all_clear(job: Job) -> tuple[Effect, ...]:
    return (Message("all clear", _text(job, "says that all is clear", "No help is needed")),) if job.lone.contacts else ()


def _next(job: Job) -> tuple[Effect, ...]:
    return prompt(job) if job.proofs else ()


def _signed_off(event: ev.SignedOff, job: Job) -> tuple[Effect, ...]:
    told = (Message("signed off", _text(job, "has signed off", "Nobody has to call")),) if job.lone.contacts else ()
    return (*told, *say("You are signed off. Nobody checks on you now."))


def left(job: Job) -> tuple[Effect, ...]:
    """Whoever leaves a job is not looked after; that is said."""
    if job.lone is None or not job.lone.every_ms:
        return ()
    return say("Nobody checks on you now.")


# -- messages and the day's test ---------------------------------------------------------------------------------------

_SENT = {"help": "The call for help is sent.", "all clear": "The all-clear is sent.", "call by": "Your contact has the time.",
         "test": "The test message is sent.", "signed off": ""}


def _message(event: ev.MessageSent, job: Job) -> tuple[Effect, ...]:
    if event.sent:
        return say(_SENT.get(event.kind, ""))
    tried = "It is tried again." if event.kind == "help" else "Tell them yourself."
    contacts = job.lone.contacts if job.lone is not None else 0
    some = 0 < event.unreached < contacts
    failed = (f"{say_number(str(event.unreached))} of {say_number(str(contacts))} contacts could not be reached." if some
              else "The message could not be sent.")
    return (Tone("again"), *say(failed, tried))


def _text(job: Job, what: str, do: str) -> str:
    """A whole message: who, what, where, and what is wanted."""
    practice = "PRACTICE, no real job. " if job.card.practice else ""
    place = job.lone.place or "not given"
    return f"{practice}{job.mechanic or 'The mechanic'} {what}. Job: {job.card.title}. Place: {place}. {do}."


def _near(event: ev.CallByNear, job: Job) -> tuple[Effect, ...]:
    return say(f"Your contact calls at {job.lone.call_by_said}. Tell them how long you need.")


def _sounded(event: ev.AlarmSounded, job: Job) -> tuple[Effect, ...]:
    told = (Message("test", _text(job, "tests the alarm of the day", "Nothing is to be done")),) if job.lone.contacts else ()
    return (*told, *say("The alarm is hardly louder than the noise here." if event.verdict == "weak" else ""))


def _test_answered(event: ev.AlarmTestAnswered, job: Job) -> tuple[Effect, ...]:
    if event.heard_it:
        return prompt(job)
    return (*say("Turn the sound up, or wear the headset.", "Do not work alone until you can hear the alarm."), *prompt(job))


LONE: dict[type[ev.Event], Callable[..., tuple[Effect, ...]]] = {
    ev.LoneWorkAgreed: _agreed,
    ev.CheckedOn: lambda event, job: say(are_you_okay(job, "Checking on you.")),
    ev.CheckAnswered: lambda event, job: say("Good."),
    ev.AlarmRaised: _rung,
    ev.AlarmAnswered: lambda event, job: (Hush(), *prompt(job)),
    ev.AlarmEnded: _ended,
    ev.HelpCalled: called,
    ev.AllClearGiven: lambda event, job: (*_all_clear(job), *_next(job)),
    ev.MessageSent: _message,
    ev.CallByNear: _near,
    ev.AlarmSounded: _sounded,
    ev.AlarmTestAnswered: _test_answered,
    ev.SignedOff: _signed_off,
}
