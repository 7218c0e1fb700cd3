"""What a supervisor should see in a log. Each rule is a small function over the log's facts; adding one is one function
in its module, its place in `RULES`, and its cases."""
from __future__ import annotations

from companion.office.account import Account
from companion.office.findings.finding import Finding, Rule
from companion.office.findings.kinds import KINDS

__all__ = ["Finding", "KINDS", "RULES", "findings"]

RULES: tuple[Rule, ...] = ()


def findings(account: Account) -> tuple[Finding, ...]:
    """Everything the rules find in one log, in the order of `KINDS`, then of the lines. What needs the office's own
    register of cards and sign-offs is in `findings.office`."""
    places = {name: place for place, name in enumerate(KINDS)}
    found = (finding for rule in RULES for finding in rule(account))
    return tuple(sorted(found, key=lambda finding: (places[finding.name], finding.lines)))
