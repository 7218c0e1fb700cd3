"""The trends' pictures: control charts, stage bars and rates, as drawings in the page, without a script.

Black and white are enough: what differs, differs in shape. Places across are in percent and heights and text in
pixels, so that they stay readable on a narrow screen. Each has its words in `title` and `desc`; the figures stand in
a table beside it.
"""
from __future__ import annotations

from typing import Iterable, Iterator, Sequence

from companion.office.record.markup import Markup, tag
from companion.office.trends.drift import Drift
from companion.office.trends.figures import number, percent, share, span
from companion.office.trends.rates import Rate
from companion.office.trends.stages import StageTime

HEIGHT, ROW, BAR, EDGE = 220, 38, 12, 24
"""Pixels: a control chart's height; from one bar to the next; a bar's height; above and below a chart."""
MOST_POINTS = 100
"""Jobs that a control chart shows, the newest."""
_FROM, _TO = 1.0, 99.0
"""Percent of the width that is drawn on, so that marks at the ends stay whole."""
_LEFT = 0.13
"""Of that, what is left to the figures of a control chart's limits."""
CHART_LEGEND = ("Circle: one job. Black dot: a job outside its limits (long dashes). Thick line: the weighted mean; "
                "black square: it is outside its limits (short dashes). Thin line: the target.")
STAGE_LEGEND = ("Bar: the median. Line to the right of it: up to the 90th percentile. Thick upright mark: the card's "
                "estimate.")
RATE_LEGEND = ("Dot: per hundred jobs. Line: the 95 % interval (Wilson); a long one tells that little is known. The "
               "scale begins at 0.")


def control_chart(drift: Drift, place: int = 0) -> Markup:
    """The newest points of a series that is judged, its EWMA, its limits. `place` tells drawings of a page apart."""
    points, mean, single = drift.later[-MOST_POINTS:], drift.mean, drift.single
    cut = len(drift.later) - len(points)
    means = mean.means[cut:]
    scale = _Scale([*points, *means, mean.low, mean.high, single.low, single.high], len(points))
    out, mean_out = set(single.out), set(mean.out)
    drawn = [
        *scale.levels([(mean.target, ""), (mean.high, "2 3"), (mean.low, "2 3"),
                       (single.high, "6 4"), (single.low, "6 4")]),
        *scale.joined(means), *scale.ends(drift, len(points)),
        *(scale.point(at, value, at + cut in out) for at, value in enumerate(points)),
        *(scale.square(at, value) for at, value in enumerate(means) if at + cut in mean_out)]
    name = f"Control chart of the {drift.series.tool}: {drift.series.name}"
    return _drawing(f"control-chart-{place}", name, _chart_words(drift, len(points)), drawn, HEIGHT)


def _chart_words(drift: Drift, shown: int) -> str:
    unit, mean = drift.series.unit, drift.mean
    stands = "outside" if drift.drifts else "inside"
    return (f"The last {shown} of {drift.jobs} jobs, until {drift.until}. Target {number(mean.target)} {unit}. The "
            f"weighted mean stands at {number(mean.means[-1])} {unit}, {stands} its limits {number(mean.lows[-1])} to "
            f"{number(mean.highs[-1])} {unit}. Limits of a single job {number(drift.single.low)} to "
            f"{number(drift.single.high)} {unit}.")


class _Scale:
    """Where values and places lie in a control chart."""

    def __init__(self, values: Sequence[float], count: int) -> None:
        self._low, self._high = min(values), max(values)
        self._count = count

    def y(self, value: float) -> float:
        room = self._high - self._low
        return round(EDGE + (HEIGHT - 2 * EDGE) * ((self._high - value) / room if room else 0.5), 1)

    def x(self, at: int) -> str:
        return _x(_LEFT + (1 - _LEFT) * at / max(1, self._count - 1))

    def levels(self, levels: Iterable[tuple[float, str]]) -> Iterator[Markup]:
        """A line across for each value, with its dashes; its figure is left out where it would cover another."""
        said: list[float] = []
        for value, dashes in levels:
            y = self.y(value)
            yield tag("line", x1="0%", x2="100%", y1=y, y2=y, stroke="#000", stroke_dasharray=dashes)
            if all(abs(y - other) > 13 for other in said):
                said.append(y)
                yield tag("text", number(value), x=0, y=y - 3, class_="faint", font_size=12)

    def ends(self, drift: Drift, shown: int) -> Iterator[Markup]:
        """What the first and the last point are."""
        for at, anchor, words in ((0, "start", f"job {drift.jobs - shown + 1}"),
                                  (shown - 1, "end", f"job {drift.jobs}, {drift.until}")):
            yield tag("text", words, x=self.x(at) if shown > 1 or at else _x(1), y=HEIGHT - 5, text_anchor=anchor,
                      class_="faint", font_size=12)

    def joined(self, values: Sequence[float]) -> Iterator[Markup]:
        """Each value joined to the next; a polyline knows no percent."""
        for at in range(1, len(values)):
            yield tag("line", x1=self.x(at - 1), x2=self.x(at), y1=self.y(values[at - 1]), y2=self.y(values[at]),
                      stroke="#000", stroke_width=2.5, stroke_linecap="round")

    def point(self, at: int, value: float, out: bool) -> Markup:
        return tag("circle", cx=self.x(at), cy=self.y(value), r=4 if out else 2.5, fill="#000" if out else "#fff",
                   stroke="#000")

    def square(self, at: int, value: float) -> Markup:
        """A square is a short, thick line here, since percent and pixels cannot be added."""
        return tag("line", x1=self.x(at), x2=self.x(at), y1=self.y(value) - 4, y2=self.y(value) + 4, stroke="#000",
                   stroke_width=8)


def stage_bars(stages: Sequence[StageTime], place: int = 0) -> Markup:
    """The stages of one card: median, 90th percentile and estimate of each, on one scale of time."""
    most = max(max(one.ninth, one.estimate or 0) for one in stages) or 1
    drawn = [_stage(one, row * ROW, most) for row, one in enumerate(stages)]
    words = "; ".join(f"{one.stage}: {span(one.median)}, estimate {span(one.estimate) or 'none'}" for one in stages)
    return _drawing(f"stage-bars-{place}", f"Time by stage, card {stages[0].card}", words, drawn, ROW * len(stages))


def _stage(one: StageTime, top: int, most: float) -> Markup:
    against = f", {percent(one.ratio)} of the estimate" if one.ratio is not None else ""
    middle = top + 19 + BAR / 2
    drawn = [_name(one.stage, f"{span(one.median)}{against}", top),
             tag("rect", x=_x(0), y=top + 19, width=_width(one.median / most), height=BAR, fill="#fff", stroke="#000"),
             _across(one.median / most, one.ninth / most, middle, 1.2), _upright(one.ninth / most, middle, 4, 1.2)]
    if one.estimate:
        drawn.append(_upright(one.estimate / most, middle, BAR / 2 + 3, 4))
    return tag("g", drawn)


def rate_bars(title: str, rates: Sequence[Rate], place: str, nameless: str = "not named") -> Markup:
    """Rates with their intervals, on one scale from 0. `nameless` is said where a rate has no name."""
    most = max(one.interval[1] for one in rates)
    drawn = [_rate(one.name or nameless, one, row * ROW, most) for row, one in enumerate(rates)]
    words = "; ".join(f"{one.name or nameless}: {share(one)}" for one in rates)
    return _drawing(f"rates-{place}", title, words, drawn, ROW * len(rates))


def _rate(name: str, one: Rate, top: int, most: float) -> Markup:
    middle, (low, high) = top + 19 + BAR / 2, one.interval
    return tag("g", _name(name, share(one), top), _across(0, 1, middle, 1, "#ccc"),
               _across(low / most, high / most, middle, 2), _upright(low / most, middle, 5, 2),
               _upright(high / most, middle, 5, 2),
               tag("circle", cx=_x(one.hundred / most), cy=middle, r=5, fill="#000"))


def _drawing(name: str, title: str, words: str, drawn: Iterable[Markup], height: int) -> Markup:
    return tag("svg", tag("title", title, id=f"{name}-title"), tag("desc", words, id=f"{name}-words"), drawn,
               width="100%", height=height, role="img", aria_labelledby=f"{name}-title {name}-words")


def _name(name: str, said: str, top: int) -> Markup:
    return tag("text", name, tag("tspan", f"  {said}", class_="faint"), x=_x(0), y=top + 13, font_size=13)


def _across(start: float, end: float, y: float, width: float, stroke: str = "#000") -> Markup:
    return tag("line", x1=_x(start), x2=_x(end), y1=y, y2=y, stroke=stroke, stroke_width=width)


def _upright(at: float, middle: float, half: float, width: float) -> Markup:
    return tag("line", x1=_x(at), x2=_x(at), y1=middle - half, y2=middle + half, stroke="#000", stroke_width=width)


def _x(part: float) -> str:
    return f"{_FROM + (_TO - _FROM) * part:.2f}%"


def _width(part: float) -> str:
    return f"{(_TO - _FROM) * part:.2f}%"
