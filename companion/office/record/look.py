"""What a reader of the record should look at first."""
from __future__ import annotations

from companion.office.record.cells import full
from companion.office.record.clocks import FULL
from companion.office.record.rows import Row
from companion.office.record.worked_cells import why_unfit


def look(data: Row) -> list[str]:
    """What a careful reader would ask about, each in a sentence."""
    found = [f"Emergency called at {full(one['at'])}." for one in data["emergencies"]]
    found += [f"{one['name']}, {one['value']} {one['unit']}, {_wrong(one)}"
              + (f": {one['reason']}." if one["reason"] else ".")
              for one in data["values"] if one["verdict"] == "outside" and not one["replaced_by"]]
    found += _worked(data)
    found += [f"{one['name']} counted {one['count']}, not {one['must_be']}."
              for one in data["counts"] if one["verdict"] == "wrong"]
    found += [f"{one['say']} at step {one['step']}: {one['how']}" + (f" ({one['reason']})." if one["reason"] else ".")
              for one in data["waits"] + data["runs"] if not one["how"].startswith(FULL)]
    found += [f"Step {one['step']} was left out: {one['reason'] or 'no reason'}." for one in data["left_out"]]
    found += [f"Step {one['step']} is still open." for one in data["left_open"] if not one["closed"]]
    found += [f"The caution {one['caution']} at step {one['step']} was not acknowledged."
              for one in data["cautions"] if not one["acknowledged"]]
    found += [f"Memo {one['memo']} at step {one['step']} was not kept: {one['why'] or 'the log ends before'}."
              for one in data["memos"] if not one["kept"]]
    found += [f"The {one['part']} was lost at step {one['step']} and not found again." for one in data["losses"]
              if not one["found"]]
    found += [f"On resuming, {said}." for one in data["gaps"] for said in one["proved"] if "in doubt" in said]
    return [said[:1].upper() + said[1:] for said in found]


def _wrong(value: Row) -> str:
    """What is wrong with a value; a pressure that rose may lie inside its limits."""
    return f"rose from {value['rose_from']} {value['unit']}" if value["rose_from"] else "is outside its limits"


def _worked(data: Row) -> list[str]:
    """What the companion found not to be in order."""
    found = [f"{one['name']}, {one['value']} {one['unit']}, is too close to its limits to call"
             + (f": {one['reason']}." if one["reason"] else ".")
             for one in data["values"] if one["verdict"] == "too close" and not one["replaced_by"]]
    found += [f"The {one['tool']}, chosen as {one['name']}, is unfit: {why_unfit(one)}."
              for one in data["tool_checks"] if one["verdict"] == "unfit"]
    found += [f"{one['name']}: {' '.join(one['why']) or 'nothing was found that agrees.'}"
              for one in data["evidence"] if one["verdict"] not in ("agree", "none")]
    found += [f"{one['name']}: {code} {how}." for one in data["codes_compared"]
              for key, how in _CODES.items() for code in one[key]]
    found += [f"{one['name']} differs from {one['against']}." for one in data["spellings"]
              if one["verdict"] == "different"]
    found += [f"{one['name']}: the check character does not fit." for one in data["vehicle_numbers"]
              if one["verdict"] == "does not fit"]
    return found + [f"At step {one['step']} the line was kept closed: {one['why']}." for one in data["kept_closed"]]


_CODES = {"still_there": "is still there", "came_back": "came back", "new": "is new",
          "ours_left": "is from our own test and still there"}
