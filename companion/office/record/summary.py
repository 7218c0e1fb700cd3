"""The record's head in words: which card, who, when, and whether the log holds. For the page and the text alike."""
from __future__ import annotations

from typing import Iterator

from companion.office.record.rows import Row
from companion.office.record.cells import full, span

Fact = tuple[str, list[str]]


def title(data: Row) -> str:
    """The card's title, else its name in the log, else the log's."""
    return data["card"]["title"] or data["card"]["name"] or data["log"]


def banner(data: Row) -> list[str]:
    """What is wrong with the log or its reading; empty where nothing is."""
    wrong, fault = data["check"]["wrong"], data["check"]["card_fault"]
    said = [f"This log does not hold: {one}." for one in wrong]
    if wrong:
        said.append(f"Only the entries up to line {len(data['entries'])} are shown." if data["entries"]
                    else "There is no entry to show.")
    return said + ([f"The job card cannot be read, so its words are missing: {fault}."] if fault else [])


def facts(data: Row) -> Iterator[Fact]:
    """Headings, each with what is to be said under it: who, what, when, and whether the log holds."""
    return (fact for part in (_card, _people, _times, _seal) for fact in part(data))


def _card(data: Row) -> Iterator[Fact]:
    card = data["card"]
    yield "Card", [f"{card['name']}, version {card['version'] or 'unknown'}"]
    if card["applies_to"]:
        yield "Applies to", [card["applies_to"]]
    for heading in ("Vehicle", "Complaint"):
        if said := data[heading.lower()]:
            yield heading, [said]


def _people(data: Row) -> Iterator[Fact]:
    yield "Mechanic", [f"{one['name'] or '(unnamed)'}, {one['how']} at {full(one['at'])}"
                       for one in data["mechanics"]] or ["not named"]


def _times(data: Row) -> Iterator[Fact]:
    job = data["job"]
    if job["began"] is None:
        return
    yield "Began", [full(job["began"])]
    yield "Ended" if data["check"]["finished"] else "Last entry", [full(job["ended"])]
    away = f", and {span(job['away'])} away" if job["away"] else ""
    yield "Duration", [f"{span(job['worked'])} worked{away}"]
    if any(boot["simulated"] for boot in data["boots"]):
        yield "Clock", ["SIMULATED: these times were set, not lived through."]


def _seal(data: Row) -> Iterator[Fact]:
    check = data["check"]
    holds = f"The log holds: {check['entries']} entries, {check['seals']} seals."
    yield "Check", ["The log DOES NOT HOLD." if check["wrong"] else holds, *check["notes"]]
    if check["finished"]:
        yield "Closing seal", [check["closing_seal"], check["closing_seal_spoken"]]
    else:
        yield "Closing seal", ["None: the log does not hold." if check["wrong"] else "None: the job is unfinished."]
        yield from _standing(data["standing"])


def _standing(standing: Row | None) -> Iterator[Fact]:
    if standing is None:
        return
    said = [f"at step {standing['step']}" if standing["step"] else "before the first step"]
    said += ['left by "stop job"'] * standing["left"]
    said += [f"{one['clock']}: {span(one['left'])} left" for one in standing["clocks"]]
    yield "Stood at the last entry", said + [f"open: {step}" for step in standing["open"]]


def behind(data: Row) -> Iterator[Fact]:
    """What the record rests on: the log's name, hashes, device and program."""
    job = data["job"]
    yield "Log", [data["log"]]
    yield "Not shown by the check", data["check"]["not_checked"]
    yield "Card SHA-256", [data["card"]["sha256"] or "unknown"]
    if data["tools"]["name"]:
        yield "Tool list", [data["tools"]["name"]]
        yield "Tool list SHA-256", [data["tools"]["sha256"] or "unknown"]
    yield "Device key", [data["check"]["key"] or "unknown", *filter(None, [data["check"].get("key_said")])]
    yield "Starts of the machine", [f"{boot['boot']}, from {full(boot['at'])}" for boot in data["boots"]] or ["unknown"]
    yield "Program", [f"{job['program'] or 'unknown'}; ear {job['ear'] or 'unknown'}, voice {job['voice'] or 'unknown'}"
                      + ("; brief words" if job["brief"] else "")
                      + (f"; listening: {job['attention']}" if job["attention"] else "")]
