"""How what the companion worked out is shown in the record's tables: one line a code, one line a cylinder."""
from __future__ import annotations

from typing import Callable, Optional

from companion.office.record.cells import span
from companion.office.record.rows import Row, Span, number

OUTLIER, OVER = "stands out", "outside a limit"
_CAME_OUT = {"gone": "gone", "still_there": "still there", "new": "new since then", "came_back": "came back",
             "ours_left": "our own, still there"}


# -- lines -------------------------------------------------------------------------------------------------------------

def backed(row: Row) -> list[Row]:
    """A value that has more behind it than its figure."""
    behind = ("tool", "uncertainty", "probability", "arm", "side", "rose_from")
    return [row] if any(row[name] for name in behind) else []


def each_code(row: Row) -> list[Row]:
    """One line a code of a list; one without a code where the list is empty."""
    pairs = [{"code": code, "meaning": meant} for code, meant in zip(row["codes"], row["meanings"])]
    return [{**row, **pair} for pair in pairs or [{"code": "", "meaning": ""}]]


def each_outcome(row: Row) -> list[Row]:
    """One line a code; one without where there was none, before or after."""
    found = [{"code": code, "came_out": how, "meaning": row["meanings"][code]}
             for outcome, how in _CAME_OUT.items() for code in row[outcome]]
    nothing = {"code": "", "meaning": "", "came_out": "none before, none after"}
    return [{**row, **one} for one in found or [nothing]]


def each_cylinder(row: Row) -> list[Row]:
    """One line a cylinder, with what was found of it."""
    return [{**row, "cylinder": cylinder, "value": value, "finding": finding(row, cylinder),
             "by": row["by"] if cylinder == row["outlier"] else ""}
            for cylinder, value in zip(row["cylinders"], row["values"])]


def median(row: Row) -> str:
    """The median with its unit."""
    return f"{row['median']} {row['unit']}" if row["median"] else ""


def finding(row: Row, cylinder: str) -> str:
    """Whether a cylinder of a comparison stands out; "" where there is nothing to say of it."""
    if cylinder and cylinder == row["outlier"]:
        return OUTLIER
    return OVER if cylinder in row["over_limit"] else ""


# -- cells -------------------------------------------------------------------------------------------------------------

def uncertainty(row: Row) -> str:
    """ "± 0.24 N·m"."""
    return f"± {row['uncertainty']} {row['unit']}" if row["uncertainty"] else ""


def probability(row: Row) -> str:
    """Percent to two decimals; an instrument with an uncertainty never makes quite sure of anything."""
    percent = 100 * value if (value := number(row["probability"] or "")) is not None else None
    if percent is None:
        return ""
    return "below 0.01 %" if 100 * percent < 1 else "above 99.99 %" if 100 * percent > 9999 else f"{percent:.2f} %"


def on_the_wrench(row: Row) -> str:
    """What the wrench showed, where an adaptor stands between it and the bolt: the value is then the bolt's torque."""
    if row["arm"] is None:
        return ""
    angle = f" at {row['adaptor_angle']}°" if number(row["adaptor_angle"] or "") else ""
    return f"{row['said']} {row['said_unit']}, arm {row['arm']} mm, adaptor {row['adaptor']} mm{angle}"


def rose(row: Row) -> str:
    """The earlier reading that a value must not lie above, and does."""
    return f"{row['rose_from']} {row['unit']}" if row["rose_from"] else ""


def why_unfit(row: Row) -> str:
    """Why a tool will not do, with the figures."""
    end = {"below range": "begins", "above range": "ends"}.get(row["why"])
    figures = [f"its range {end} at {row['limit']} {row['unit']}"] if row["limit"] and end else []
    figures += [f"needed: {row['target']} {row['unit']}"] if row["target"] else []
    figures += [f"calibrated until {row['due']}"] if row["due"] and row["why"] else []
    return "; ".join([row["why"], *figures]) if row["why"] else ""


def counted(row: Row) -> str:
    """A count that had to be nothing in particular is neither right nor wrong."""
    return "noted" if row["must_be"] is None and row["verdict"] == "right" else row["verdict"]


def sentences(row: Row) -> str:
    """What disagrees."""
    return " ".join(row["why"])


def spent(kind: str) -> Callable[[Row], Optional[Span]]:
    """The time of one kind; nothing where none was spent."""
    return lambda row: row[kind] or None


def difference(row: Row) -> str:
    """Time worked against the estimate."""
    if row["difference"] is None:
        return ""
    return f"{span(abs(row['difference']))} {'over' if row['difference'] >= 0 else 'under'}"
