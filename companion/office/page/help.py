"""What the page offers to somebody who is new to it: how to use it, its keys, and what every finding means."""
from __future__ import annotations

from companion.office.findings.kinds import KINDS, SEVERITIES
from companion.office.page.asked import View
from companion.office.page.counts import HEADINGS
from companion.office.page.frame import Frame, PAGES, table, weight
from companion.office.record.markup import Markup, tag

_STEPS = (
    "Jobs shows what is not signed off, worst first. Above the list stands what was found, in how many jobs: choose "
    "one to see just those.",
    "Open a job. Each finding says what is wrong and on which lines of the log; the whole record tells the job from "
    "start to end.",
    "The mechanic replies to a finding under it. It stays a finding, with the reply beside it.",
    "Sign the job off with your name and a reason. Your signature binds to the log as it was: if it changes, the page "
    "says so.",
    "Everything that you write goes to the office's own log, signed, and is never taken away.")
_KEYS = {**{key: f"the page {name}" for key, _, name in PAGES}, "s": "the words to look for",
         "w": "show the jobs of the filters", "n": "the next page, or the next job to be signed off",
         "p": "the page before", "b": "from a job back to the list", "r": "the whole record of a job",
         "l": "look again at the folder of logs"}
"""Every key of the page, and what it does."""


def help_page(frame: Frame) -> str:
    """The page."""
    kinds = [[kind.name, weight(kind.severity), kind.says, _jobs(kind.name)]
             for severity in SEVERITIES for kind in KINDS.values() if kind.severity == severity]
    return frame.page(
        "Help", tag("ol", [tag("li", step) for step in _STEPS]), tag("h2", "Keys"),
        tag("p", "Hold Alt (Firefox: Alt and Shift; Mac: Control and Option) and press the key. Tab and Enter do the "
                 "rest; the first Tab on a page offers to skip to its content."),
        table("Keys", ["Key", "What it does"], [[tag("kbd", key), what] for key, what in _KEYS.items()], class_="keys"),
        tag("h2", "What can be found"),
        tag("ul", [tag("li", weight(name), f" {said}") for name, said in HEADINGS.items()]),
        table("Kinds of finding", ["Finding", "Weight", "It means that", "Jobs"], kinds), here="/help")


def _jobs(finding: str) -> Markup:
    return tag("a", "Jobs", href=View().without(finding=finding).address(), aria_label=f"Jobs with {finding}")
