"""What is found in a log, and what its report says; tests/test_tamper.py tries every change."""
from __future__ import annotations

import io

from companion.core.log.evidence import Report, examine
from companion.core.events import JobLeft, StepBegun, StepEnded
from companion.core.log.closing import closing_seal
from companion.core.log.journal import digest
from logmaker import KEY, OTHER_KEY, objects, opened, rewritten, small, value, written

LINES = written(small())
OTHER = written(small(text="7.51"))
LONG = written([opened(), *(event for _ in range(4) for event in (StepBegun(), value(), StepEnded())), JobLeft()])


def examined(lines) -> Report:
    text = lines if isinstance(lines, bytes) else b"".join(lines)
    return examine(lambda: io.BytesIO(text))


def first_bad(lines) -> int:
    """The first bad line from 1, or 0."""
    report = examined(lines)
    return report.bad.line if report.bad else report.entries + 1 if report.torn else 0


def test_the_made_logs_hold():
    """What the tests below change is good before."""
    for lines in (LINES, OTHER, LONG):
        report = examined(lines)
        assert report.holds and report.entries == len(lines) and report.vouched == report.entries
    assert examined(LINES).closing_seal == closing_seal(digest(LINES[-1])) and not examined(LONG).finished


def test_a_cut_at_every_byte_is_found():
    """A cut within a line names that line. A cut between lines leaves an unfinished log without a closing seal."""
    text = b"".join(LINES)
    ends = {sum(map(len, LINES[:n])): n for n in range(1, len(LINES) + 1)}
    for cut in range(1, len(text)):
        report = examined(text[:cut])
        whole = text[:cut].count(b"\n")
        assert report.entries == whole and not report.finished and report.closing_seal == ""
        assert report.holds == (cut in ends) and first_bad(text[:cut]) == (0 if cut in ends else whole + 1)
    assert first_bad(b"") == 1


def test_a_seal_of_another_device_is_found():
    """The card and the steps may be copied, but not the signature."""
    changed = rewritten(objects(LINES), key=OTHER_KEY)
    assert first_bad(changed) == 5 and examined(changed).entries == 0
    forged = objects(LINES)
    forged[0]["data"]["key"] = opened(OTHER_KEY).key
    assert first_bad(rewritten(forged, key=KEY)) == 5


def test_a_log_written_anew_needs_what_is_held_elsewhere():
    """A whole rewrite holds by itself; its key, or its closing seal, is another."""
    anew, same_device = written(small(OTHER_KEY), OTHER_KEY), written(small(text="7.51"))
    assert examined(anew).holds and examined(anew).key != examined(LINES).key
    assert examined(same_device).holds and examined(same_device).closing_seal != examined(LINES).closing_seal


def test_lines_without_a_seal_are_counted():
    """What only the chain speaks for is said."""
    assert [examined(LINES[:n]).vouched for n in range(1, 8)] == [0, 0, 0, 0, 5, 5, 7]


def test_a_stepped_clock_is_noted():
    """The time of day may step back; the report says where."""
    lines = objects(LINES)
    lines[3]["at"] = "2001-01-01T00:00:00.000Z"
    report = examined(rewritten(lines))
    assert report.holds and report.clock_steps == (4,)
