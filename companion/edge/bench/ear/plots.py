"""Two pictures: accuracy against the ratio of speech to noise, and the trade-off of misses and false accepts."""
from __future__ import annotations

from pathlib import Path
from typing import Any

from companion.errors import BrokenMachine

_STYLES = (("-", "o"), ("--", "s"), (":", "^"), ("-.", "D"))
"""Line and marker of each ear, told apart in black and white."""
_SHADES = ("black", "0.35", "0.5", "0.2")
_COLUMNS = 3
_PANEL = (4.2, 3.1)


def draw(found: dict[str, Any], folder: Path) -> list[Path]:
    """Writes accuracy.png and errors.png. Raises BrokenMachine without the package matplotlib."""
    try:
        from matplotlib.figure import Figure
    except ImportError as fault:
        raise BrokenMachine("plots", "need the package matplotlib", "missing", "pip install '.[bench]'") from fault
    title = f"{found['machine']}, {found['date']}"
    return [_save(_accuracy(found, Figure, title), folder / "accuracy.png"),
            _save(_errors(found, Figure, title), folder / "errors.png")]


def _save(figure, path: Path) -> Path:
    figure.savefig(path, dpi=120)
    return path


def _accuracy(found: dict[str, Any], figure_of, title: str):
    """One panel a set, one line an ear, bars for the 95 % interval."""
    cells = found["accuracy"]["set"]
    sets = list(dict.fromkeys(cell["set"] for cell in cells))
    rows = -(-len(sets) // _COLUMNS) if sets else 1
    figure = figure_of(figsize=(_PANEL[0] * _COLUMNS, _PANEL[1] * rows + 0.9), layout="constrained")
    count = max((cell["said"] for cell in cells), default=0)
    heading = f"Accepted and exactly right, at most {count} utterances a point, 95 % intervals"
    figure.suptitle(f"{heading}\n{title}", fontsize=11)
    for place, name in enumerate(sets):
        axes = figure.add_subplot(rows, _COLUMNS, place + 1)
        for number, ear in enumerate(found["ears"]):
            own = [cell for cell in cells if (cell["set"], cell["ear"]) == (name, ear)]
            _line(axes, own, found["conditions"], ear, number)
        axes.set(title=name, ylim=(-3, 103), xlabel="speech above noise, dB", ylabel="right, %")
        axes.set_xticks(range(len(found["conditions"])), found["conditions"])
        axes.grid(color="0.85")
        if place == 0:
            axes.legend(fontsize=8, loc="lower left")
    return figure


def _line(axes, cells: list[dict[str, Any]], conditions: list[str], ear: str, number: int) -> None:
    cells = sorted(cells, key=lambda cell: conditions.index(cell["condition"]))
    places = [conditions.index(cell["condition"]) + 0.04 * number for cell in cells]
    shares = [100 * cell["share"] for cell in cells]
    below = [100 * (cell["share"] - cell["interval"][0]) for cell in cells]
    above = [100 * (cell["interval"][1] - cell["share"]) for cell in cells]
    bars = [[max(0, each) for each in side] for side in (below, above)]
    axes.errorbar(places, shares, bars, markersize=4, capsize=2, label=ear, **_look(number))


def _look(number: int) -> dict[str, Any]:
    line, marker = _STYLES[number % len(_STYLES)]
    return {"linestyle": line, "marker": marker, "linewidth": 1.3, "color": _SHADES[number % len(_SHADES)]}


def _errors(found: dict[str, Any], figure_of, title: str):
    """Misses against false accepts as the least accepted score moves; all sets and all conditions together."""
    figure = figure_of(figsize=(7.5, 5.6), layout="constrained")
    axes = figure.add_subplot()
    for number, ear in enumerate(found["ears"]):
        points = found["trade_off"].get(ear, [])
        across = [point["false_per_hour"] for point in points]
        axes.plot(across, [100 * point["missed"] for point in points], markersize=3, label=ear, **_look(number))
    hours = sum(cell["hours"] for cell in found["false_accepts"] if cell["ear"] == found["judged"])
    said = sum(cell["said"] for cell in found["wrong"] if cell["ear"] == found["judged"])
    axes.set_xscale("symlog", linthresh=1)
    axes.set(xlabel="false accepts an hour, on other speech and on noise", ylabel="missed, %", ylim=(0, 100))
    axes.set_xlim(left=0)
    heading = f"As the least accepted score moves: {said} utterances, {hours:.2f} hours of other sound"
    axes.set_title(f"{heading}\n{title}", fontsize=10)
    axes.grid(color="0.85")
    axes.legend()
    return figure
