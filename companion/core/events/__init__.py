"""The facts of a job. Each is written to the log; replaying them gives the state again.

Field types are few (text, whole numbers, yes/no, Decimal, Personal, tuples of text), so that one codec serves all.
Milliseconds are whole numbers. An event whose class has `seals = True` is followed by a signed line.
"""
from __future__ import annotations

from companion.core.events.alone import (
    AllClearGiven, AlarmAnswered, AlarmEnded, AlarmRaised, AlarmSounded, AlarmTestAnswered, CallByNear, CheckAnswered, CheckedOn, ChecksAsked,
    HelpCalled, HelpStillNeeded, LoneWorkAgreed, MessageSent, SignedOff)
from companion.core.events.answers import (
    AnswerGiven, CodeHeard, CodesLogged, CountLogged, ReadingNoted, SpellingLogged, ValueLogged)
from companion.core.events.clocks import (
    ClockEnded, ClockStarted, MarkReached, QuestionAsked, QuestionPut, RunAnswered, RunBroken, TimeOfDaySet, TimerCancelled,
    WaitCutShort)
from companion.core.events.course import (
    CautionAcknowledged, CautionHeard, JobEnded, JobLeft, JobOpened, JobResumed, OpenStepsDue, SafeguardDoubted,
    SafeguardProved, SameMechanicStated, StepBegun, StepEnded, StepLeftOpen, StepLeftOut, TakenOver,
    TimeAwayCounted, TimeAwayDropped)
from companion.core.events.disk import JobEndHeldBack, LogCaughtUp, LogHeldBack
from companion.core.events.parts import PartFaltered, SoundStuttered, StillDeaf
from companion.core.events.root import Event, Hearing, Personal, Words, plain
from companion.core.events.sound import (
    ClipKept, ClipLost, MemoBegun, MemoKept, MemoLost, RoomMeasured, SoundWasFound, SoundWasLost, VoiceSet)
from companion.core.events.talk import (
    Asked, BriefSet, DigitHeard, DigitsBegun, EmergencyCalled, EmergencyEnded, KeyOffered, NotUnderstood, Paused,
    Refused, Repeated, Resumed, Settled, Told)
from companion.core.events.working import (
    CodesCompared, EvidenceCompared, LineKeptClosed, ReadingsCompared, SpellingsCompared, ToolJudged, VinChecked)

__all__ = [
    "AllClearGiven", "AlarmAnswered", "AlarmEnded", "AlarmRaised", "AlarmSounded", "AlarmTestAnswered", "AnswerGiven", "Asked", "BriefSet",
    "CallByNear", "CautionAcknowledged", "CautionHeard", "CheckAnswered", "CheckedOn", "ChecksAsked", "ClipKept",
    "ClipLost", "ClockEnded", "ClockStarted",
    "CodeHeard", "CodesCompared", "CodesLogged", "CountLogged", "DigitHeard", "DigitsBegun", "EmergencyCalled",
    "EmergencyEnded", "Event", "EvidenceCompared", "Hearing", "HelpCalled", "HelpStillNeeded", "JobEndHeldBack", "JobEnded",
    "JobLeft", "JobOpened", "JobResumed", "KeyOffered", "LineKeptClosed", "LogCaughtUp", "LogHeldBack",
    "LoneWorkAgreed", "MarkReached", "MemoBegun", "MemoKept",
    "MemoLost", "MessageSent", "NotUnderstood", "OpenStepsDue", "PartFaltered", "Paused", "Personal", "QuestionAsked",
    "QuestionPut", "ReadingNoted", "ReadingsCompared", "Refused", "Repeated", "Resumed", "RoomMeasured",
    "RunAnswered", "RunBroken", "SafeguardDoubted", "SafeguardProved", "SameMechanicStated", "Settled", "SignedOff",
    "SoundStuttered", "SoundWasFound", "SoundWasLost", "SpellingLogged", "SpellingsCompared", "StepBegun",
    "StepEnded", "StepLeftOpen", "StepLeftOut", "StillDeaf", "TakenOver", "TimeAwayCounted", "TimeAwayDropped",
    "TimeOfDaySet", "TimerCancelled", "Told", "ToolJudged", "ValueLogged", "VinChecked", "VoiceSet", "WaitCutShort",
    "Words", "plain"]
