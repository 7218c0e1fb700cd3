"""How many of the jobs wanted have each kind of finding: each a link to just those jobs, with what it means."""
from __future__ import annotations

from dataclasses import replace

from companion.office.findings.kinds import KINDS, SEVERITIES, Kind
from companion.office.page.asked import View
from companion.office.page.frame import Frame, weight
from companion.office.record.markup import Markup, join, tag

HEADINGS = {"serious": "Somebody may be hurt, or the log cannot be trusted",
            "fault": "The work is not shown to be right", "note": "To be seen"}
"""What each weight means."""


def counts(frame: Frame, view: View) -> Markup:
    """The kinds found among the jobs that the other filters want."""
    where, values = replace(view.asked, finding="").where()
    found = {row["name"]: row["n"] for row in frame.sight.index.rows(
        f"SELECT name, count(*) AS n FROM (SELECT unnest(findings) AS name FROM jobs WHERE {where}) GROUP BY name",
        values)}
    if not found:
        return join()
    groups = [_group(view, severity, found) for severity in SEVERITIES]
    if view.asked.finding or view.asked.severity:  # somebody has chosen: the list comes first
        return _folded(groups, "counts")
    return join(_folded(groups, "counts wide", open="open"), _folded(groups, "counts narrow"))


def _folded(groups: list[Markup], class_: str, **attributes: str) -> Markup:
    """What is open depends on the screen's width, and only a script could open one part there and fold it here: so a
    wide screen shows one, a narrow screen the other, and paper none."""
    return tag("details", tag("summary", tag("h2", "What was found, in how many of them")),
               tag("div", *groups, class_="groups"), class_=class_, **attributes)


def _group(view: View, severity: str, found: dict[str, int]) -> Markup:
    kinds = sorted((KINDS[name] for name in found if KINDS[name].severity == severity),
                   key=lambda kind: (-found[kind.name], kind.name))
    if not kinds:
        return join()
    return tag("div", tag("h3", weight(severity), " ", HEADINGS[severity]),
               tag("ul", [tag("li", _kind(view, kind, found[kind.name])) for kind in kinds]))


def _kind(view: View, kind: Kind, jobs: int) -> Markup:
    chosen = view.asked.finding == kind.name
    address = view.without(finding="" if chosen else kind.name).address()
    return join(tag("a", tag("span", f"{jobs:,}", class_="number"), f" {kind.name}", href=address,
                    aria_current="true" if chosen else ""), tag("span", kind.says, class_="said"))
