"""The figures as text."""
from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_MOST_NOISES = 16
_PAIRS = 5


def table(found: dict[str, Any]) -> list[str]:
    """Lines for standard output."""
    parts = (_shares(found, "set"), _shares(found, "noise"), _shares(found, "voice"), _wrong(found), _false(found),
             _times(found), _words(found), _pairs(found), _goals(found))
    return [line for part in map(list, parts) if part for line in (*part, "")][:-1]


def _shares(found: dict[str, Any], by: str) -> Iterator[str]:
    """A row for each name and ear, a column a condition: percent right and its interval."""
    cells, conditions = found["accuracy"][by], found["conditions"]
    names = list(dict.fromkeys(cell[by] for cell in cells))
    if not names or by == "voice" and len(names) < 2:
        return
    if by == "noise" and len(names) > _MOST_NOISES:
        yield f"{len(names)} noises: how much was right in each stands in the JSON"
        return
    heading = f"right, in percent, with its 95 % interval, by {by}"
    yield f"{heading:46}" + "".join(f"{each:>15}" for each in conditions)
    for name in names:
        for ear in found["ears"]:
            row = {cell["condition"]: cell for cell in cells if (cell[by], cell["ear"]) == (name, ear)}
            count = max((cell["said"] for cell in row.values()), default=0)
            shares = "".join(f"{_share(row.get(each)):>15}" for each in conditions)
            yield f"  {name:22.22}{ear:13}n = {count:<5}{shares}"


def _share(cell: dict[str, Any] | None) -> str:
    if cell is None:
        return "-"
    low, high = (100 * end for end in cell["interval"])
    return f"{100 * cell['share']:.1f} ({low:.0f}-{high:.0f})"


def _wrong(found: dict[str, Any]) -> Iterator[str]:
    yield (f"{'wrong and accepted, of 1,000':46}{'said':>6}{'first hearing':>16}{'at most':>9}{'after asking back':>20}"
           f"{'at most':>9}")
    for cell in found["wrong"]:
        yield (f"  {cell['ear']:22}{cell['condition']:22}{cell['said']:6}{cell['first_per_1000']:16.1f}"
               f"{cell['first_at_most']:9.1f}{cell['sure_per_1000']:20.1f}{cell['sure_at_most']:9.1f}")


def _false(found: dict[str, Any]) -> Iterator[str]:
    if not found["false_accepts"]:
        return
    yield (f"{'false accepts an hour (after asking back)':46}{'hours':>7}{'change the record':>20}{'at most':>9}"
           f"{'harmless':>18}{'at most':>9}")
    for cell in found["false_accepts"]:
        parts = ""
        for kind, width in (("records", 20), ("harmless", 18)):
            rates = f"{cell[kind]['per_hour']:.1f} ({cell[kind]['sure_per_hour']:.1f})"
            parts += rates.rjust(width) + f"{cell[kind]['at_most']:9.1f}"
        yield f"  {cell['ear']:22}{cell['on']:22.22}{cell['hours']:7.3f}{parts}"


def _times(found: dict[str, Any]) -> Iterator[str]:
    yield (f"{'milliseconds: median, 95 %, 99 %':33}{'n':>4}{'endpoint to guess':>24}{'silence waited before':>24}"
           f"{'real-time factor':>18}{'memory, MB':>12}")
    for ear, cell in found["timing"].items():
        late, silence = (", ".join(f"{value:.0f}" for value in cell[kind].values())
                         for kind in ("decision_ms", "silence_ms"))
        yield (f"  {ear:31}{cell['count']:4}{late:>24}{silence:>24}{cell['real_time']:18.2f}"
               f"{cell['memory_mb'] or '-':>12}")


def _words(found: dict[str, Any]) -> Iterator[str]:
    if found["word_errors"]:
        rates = ", ".join(f"{cell['rate']:.1%} {cell['condition']}" for cell in found["word_errors"])
        yield f"words wrong with nothing to constrain it: {rates} (n = {found['word_errors'][0]['words']} words)"


def _pairs(found: dict[str, Any]) -> Iterator[str]:
    """Who was most often taken for whom, by the ear that is judged."""
    for cell in found["confusions"]:
        pairs = [(count, said, other) for said, taken in cell["taken_for"].items() for other, count in taken.items()
                 if other not in (said, "—")]
        if cell["ear"] == found["judged"] and pairs:
            pairs.sort(key=lambda pair: -pair[0])
            told = "; ".join(f"{said} → {other} {count}" for count, said, other in pairs[:_PAIRS])
            yield f"{cell['set']}, taken for: {told}"


def _goals(found: dict[str, Any]) -> Iterator[str]:
    for goal in found["goals"]:
        sign, verdict = "at least" if goal["least"] else "at most", "reached" if goal["reached"] else "NOT reached"
        yield f"{verdict}: {goal['what']} {goal['found']:g} ({sign} {goal['must']:g})"
