"""Measuring tools: each value read on one that can measure it, and whose calibration held on that day."""
from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any, Iterator, Optional

from companion.core import events as ev
from companion.core.log.journal import Entry
from companion.core.toolbox import ToolList, load_tools
from companion.office.account import Account
from companion.office.findings.figures import figure, measured, quoted, sentence
from companion.office.findings.finding import Finding
from companion.office.findings.known import worked_out
from companion.trade.tools import Fit, Tool, fits, in_calibration

_WHY = {"below range": "its range begins at", "above range": "its range ends at",
        "other quantity": "it measures something else"}


def tool_cannot_measure(account: Account) -> Iterator[Finding]:
    """A value was read on a tool outside its usable range, or on one that the job's list does not have."""
    for entry, event, tool in _read_on(account):
        number = figure(event.said)
        fit = worked_out(fits, tool, number, event.said_unit) if tool and number is not None else Fit(True)
        if tool is None:
            why = "which is not on the job's list of tools"
        elif fit and not fit.ok:
            why = f"but {_WHY[fit.why]}{'' if fit.limit is None else ' ' + measured(f'{fit.limit:f}', tool.unit)}"
        else:
            continue
        what = "a personal value" if isinstance(event.said, ev.Personal) else measured(event.said, event.said_unit)
        yield Finding("tool-cannot-measure", (entry.n + 1,),
                      sentence(f"{quoted(event.name)}, {what}, was read on the {quoted(event.tool)}, {why}"))


def tool_out_of_calibration(account: Account) -> Iterator[Finding]:
    """Values were read on a tool whose calibration did not hold that day, its uses in this job counted."""
    uses: dict[str, int] = {}
    faults: dict[tuple[str, str], tuple[Fit, list[Entry]]] = {}
    for entry, event, tool in _read_on(account):
        if tool is None:
            continue
        used = tool.uses + uses.get(tool.name, 0)
        uses[tool.name] = uses.get(tool.name, 0) + 1
        counted = replace(tool, uses=used) if used >= tool.most_uses else tool
        fit = in_calibration(counted, date.fromisoformat(entry.at[:10]))
        if not fit.ok:
            faults.setdefault((tool.name, fit.why), (fit, []))[1].append(entry)
    for (name, why), (fit, entries) in faults.items():
        due = f", and ended on {fit.due.isoformat()}" if why == "out of date" and fit.due else ""
        read = f"{len(entries)} value{'' if len(entries) == 1 else 's'} read on it"
        yield Finding("tool-out-of-calibration", tuple(entry.n + 1 for entry in entries),
                      sentence(f"The calibration of the {quoted(name)} did not hold ({why}{due}): {read}"))


def _read_on(account: Account) -> Iterator[tuple[Entry, Any, Optional[Tool]]]:
    """Each value that was read on a tool, and that tool; nothing where the job's list cannot be read."""
    read = [(entry, event) for entry, event in account.of(ev.ValueLogged) if event.tool]
    tools = account.once(tools_of) if read else None
    if tools is not None:
        yield from ((entry, event, tools.get(event.tool)) for entry, event in read)


def tools_of(account: Account) -> Optional[ToolList]:
    """The job's list; None where it has none, or none that can be read."""
    return worked_out(_tools, account)


def _tools(account: Account) -> Optional[ToolList]:
    """The job's list, as of the day it was opened. Raises ToolErrors for one that cannot be read."""
    opened = account.opened
    if opened is None or not opened.tools_text:
        return None
    return load_tools(opened.tools_text, opened.tools_name, date.fromisoformat(account.entries[0].at[:10]))
