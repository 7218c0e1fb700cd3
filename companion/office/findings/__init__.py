"""What a supervisor should see in a log. Each rule is a small function over the log's facts; adding one is one function
in its module, its place in `RULES`, and its cases."""
from __future__ import annotations

from companion.office.account import Account
from companion.office.findings.alarms import emergency_called
from companion.office.findings.alone import (
    alarm_raised, alarm_unheard, alone_unagreed, help_called, log_held_back, log_not_caught_up, not_signed_off)
from companion.office.findings.cautions import caution_rushed, caution_unacknowledged
from companion.office.findings.clocks import clock_steered, clock_stepped, long_silence
from companion.office.findings.codes import codes_missing, codes_not_gone
from companion.office.findings.counts import count_unreconciled
from companion.office.findings.cylinders import evidence_against_answers
from companion.office.findings.finding import Finding, Rule
from companion.office.findings.kinds import KINDS, PLACES
from companion.office.findings.leaks import leak_found, leak_run_broken, leak_run_short
from companion.office.findings.log import beside_wrong, line_broken, line_torn, log_unreadable
from companion.office.findings.steps import job_stopped, job_unfinished, step_left_out, steps_passed_over
from companion.office.findings.tools import tool_cannot_measure, tool_out_of_calibration
from companion.office.findings.uncertainty import uncertainty_differs
from companion.office.findings.values import value_beyond_limits, value_changed, value_doubtful
from companion.office.findings.vehicle import vehicle_differs
from companion.office.findings.waits import waits_cut_short

__all__ = ["Finding", "KINDS", "PLACES", "RULES", "findings"]

RULES: tuple[Rule, ...] = (
    log_unreadable, line_broken, line_torn, beside_wrong, caution_unacknowledged, caution_rushed, waits_cut_short,
    step_left_out, steps_passed_over, value_beyond_limits, value_changed, value_doubtful, tool_cannot_measure,
    uncertainty_differs, tool_out_of_calibration, evidence_against_answers, leak_run_short, leak_run_broken, leak_found,
    codes_missing, codes_not_gone, count_unreconciled, vehicle_differs, clock_stepped, clock_steered, long_silence,
    emergency_called, alone_unagreed, alarm_raised, help_called, alarm_unheard, not_signed_off, log_held_back,
    log_not_caught_up, job_unfinished, job_stopped)


def findings(account: Account) -> tuple[Finding, ...]:
    """Everything the rules find in one log, the most severe first (`PLACES`), then in the order of the lines.

    What needs the office's own register of cards and sign-offs is in `findings.office`."""
    found = (finding for rule in RULES for finding in rule(account))
    return tuple(sorted(found, key=lambda finding: (PLACES[finding.name], finding.lines)))
