"""What a reader of the record should look at first and no finding says, each in a sentence."""
from __future__ import annotations

from companion.office.record.rows import Row
from companion.office.record.worked_cells import why_unfit


def look(data: Row) -> list[str]:
    """What a careful reader would ask about."""
    found = [f"The {one['tool']}, chosen as {one['name']}, is unfit: {why_unfit(one)}."
             for one in data["tool_checks"] if one["verdict"] == "unfit"]
    found += [f"{one['name']} differs from {one['against']}." for one in data["spellings"]
              if one["verdict"] == "different"]
    found += [f"{one['name']}: the check character does not fit." for one in data["vehicle_numbers"]
              if one["verdict"] == "does not fit"]
    found += [f"At step {one['step']} the line was kept closed: {one['why']}." for one in data["kept_closed"]]
    found += [f"Step {one['step']} is still open." for one in data["left_open"] if not one["closed"]]
    found += [f"Memo {one['memo']} at step {one['step']} was not kept: {one['why'] or 'the log ends before'}."
              for one in data["memos"] if not one["kept"]]
    found += [f"The {one['part']} was lost at step {one['step']} and not found again." for one in data["losses"]
              if not one["found"]]
    found += [f"On resuming, {said}." for one in data["gaps"] for said in one["proved"] if "in doubt" in said]
    return [said[:1].upper() + said[1:] for said in found]
