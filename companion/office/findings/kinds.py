"""Every kind of finding: its name, how much it weighs, and what it says about a job in general."""
from __future__ import annotations

from dataclasses import dataclass

SERIOUS, FAULT, NOTE = "serious", "fault", "note"
SEVERITIES = (SERIOUS, FAULT, NOTE)
"""Serious: somebody may be hurt, or the log cannot be trusted. Fault: the work is not shown to be right. Note: to be seen."""


@dataclass(frozen=True)
class Kind:
    """A kind of finding."""

    name: str
    severity: str
    says: str
    """What it means, in half a sentence, for headings and lists."""


_ALL = (
    Kind("log-unreadable", SERIOUS, "the file is no job log that can be read"),
    Kind("log-missing", SERIOUS, "the log was here and is gone, and nobody has said why"),
    Kind("log-shortened", SERIOUS, "lines of the log that were here are gone, and nobody has said why"),
    Kind("log-copied", FAULT, "the same log lies here under another name too"),
    Kind("chain-broken", SERIOUS, "a line of the log, or what lies beside it, is not as it was written"),
    Kind("seal-broken", SERIOUS, "a seal of the log does not hold"),
    Kind("log-torn", FAULT, "the last line is unfinished"),
    Kind("key-unknown", SERIOUS, "the log was not sealed with a key on the office's list of trusted keys"),
    Kind("key-revoked", SERIOUS, "the key that sealed the log had been revoked"),
    Kind("key-revoked-later", NOTE, "the key that sealed the log was revoked later: only a receipt shows that the log is older"),
    Kind("card-changed", SERIOUS, "the card is not the one that was approved under its version"),
    Kind("card-withdrawn", FAULT, "the card's version had been withdrawn"),
    Kind("card-out-of-date", NOTE, "a newer version of the card had been approved"),
    Kind("card-unapproved", FAULT, "the card's version was never approved"),
    Kind("hold-unsigned", FAULT, "a hold point was passed and nobody has signed it off"),
    Kind("caution-unacknowledged", SERIOUS, "a caution was not acknowledged"),
    Kind("caution-rushed", SERIOUS, "a caution was acknowledged faster than it can be said"),
    Kind("protective-wait-cut-short", SERIOUS, "a wait that protects a person ended early"),
    Kind("wait-cut-short", FAULT, "a wait that protects the work was ended early"),
    Kind("step-left-out", FAULT, "a step was left out"),
    Kind("value-outside", FAULT, "a value outside its limits was kept"),
    Kind("value-too-close", FAULT, "a value too close to its limits to call was kept"),
    Kind("value-changed", NOTE, "a value was changed after it was logged"),
    Kind("value-doubtful", NOTE, "a value was accepted on a doubtful hearing"),
    Kind("tool-cannot-measure", FAULT, "a value was read on a tool that cannot measure it"),
    Kind("uncertainty-differs", FAULT, "the uncertainty logged with a value is not that of its tool"),
    Kind("tool-out-of-calibration", FAULT, "a value was read on a tool out of calibration"),
    Kind("wrong-cylinder", SERIOUS, "another cylinder was named than the evidence shows"),
    Kind("evidence-disagrees", SERIOUS, "the evidence does not point to one cylinder, or to the fault that was named"),
    Kind("leak-run-short", SERIOUS, "a leak run was broken off, or is short of answers"),
    Kind("leak-unanswered", SERIOUS, "a question of a leak run was not answered"),
    Kind("leak-found", NOTE, "a leak was seen"),
    Kind("codes-missing", FAULT, "fault codes were not read before or after"),
    Kind("code-still-there", FAULT, "a fault code is still there, or came back"),
    Kind("code-new", FAULT, "a fault code is new since the work"),
    Kind("count-unreconciled", SERIOUS, "tools, caps, parts or rags do not add up"),
    Kind("vehicle-differs", SERIOUS, "the vehicle number at the end is not the one at the start"),
    Kind("clock-stepped", NOTE, "the time of day was set during the job"),
    Kind("log-not-caught-up", FAULT, "the program stopped while entries waited in memory: some may be missing"),
    Kind("log-held-back", NOTE, "entries waited in memory, since the disk did not take them"),
    Kind("long-silence", NOTE, "nothing was heard for long, and no clock was running"),
    Kind("alarm-raised", SERIOUS, "nobody answered a check, and the alarm rang"),
    Kind("help-called", SERIOUS, "help was called"),
    Kind("alone-unagreed", FAULT, "the mechanic was checked on less often than the card says, or not at all"),
    Kind("alarm-unheard", FAULT, "the mechanic did not hear the day's test of the alarm"),
    Kind("not-signed-off", FAULT, "the mechanic was looked after, and did not sign off at the end"),
    Kind("emergency-called", SERIOUS, "an emergency was called"),
    Kind("job-unfinished", FAULT, "the log has no end"),
    Kind("job-stopped", FAULT, "the job was stopped before its proper end"),
)
KINDS = {kind.name: kind for kind in _ALL}
"""By name, in the order in which they are listed."""
PLACES = {name: place for place, name in enumerate(
    sorted(KINDS, key=lambda name: SEVERITIES.index(KINDS[name].severity)))}
"""Where the findings of a kind stand among those of one job: the most severe first, then in the order of `KINDS`."""
