"""A job without disk, sound or waiting: inputs in, events and spoken words out, on a clock that the test moves."""
from __future__ import annotations

from copy import copy
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

from companion.core.job.apply import apply
from companion.core.job.decide import decide
from companion.core.job.effects import Effect, Say
from companion.core.events import Event, Hearing
from companion.core.job.inputs import CameBack, Heard, LoneTerms, Now, Opened, SpokenToEnd, Tick, Unheard
from companion.core.job.speech import effects
from companion.core.job.ticks import due

TOOLS = (Path(__file__).parent.parent / "checklists" / "tools.yaml").read_text(encoding="utf-8")
CASES = Path(__file__).parent / "cases" / "job"
EVERY_KIND = (CASES / "every-kind.yaml").read_text(encoding="utf-8")


class Simulator:
    """Speaks instantly: the last word of a caution or a question has sounded as soon as it is said."""

    def __init__(self, card: str = EVERY_KIND, brief: bool = False, speaks: bool = True, tools: str = TOOLS,
                 ear: str = "typed", lone: LoneTerms | None = None, mechanic: str = "") -> None:
        self.at, self.up, self.job, self.speaks = 1_700_000_000_000, 1_000_000, None, speaks
        self.events: list[Event] = []
        self.stamps: list[Now] = []
        self.spoken: list[str] = []
        self.effects: list[Effect] = []
        self.take(Opened("card.yaml", card, sha256(card.encode()).hexdigest(), "test", "boot", "key", ear, "none", brief,
                         mechanic, lone=lone, tools_name="tools.yaml", tools_text=tools, tools_sha256=sha256(tools.encode()).hexdigest()))

    def take(self, what) -> list[Event]:
        """One input and all that follows at once; its events."""
        now = Now(self.at, self.up)
        made = decide(self.job, what, now)
        tags = []
        for event in made:
            self.job = apply(self.job, event, now)
            self.events.append(event)
            self.stamps.append(now)
            for effect in effects(event, self.job):
                self.effects.append(effect)
                if isinstance(effect, Say):
                    self.spoken.append(effect.text)
                    tags.append(effect.tag)
        if self.speaks:
            for tag in filter(None, tags):
                self.take(SpokenToEnd(tag))
        if not isinstance(what, Tick):
            self._tick()
        return list(made)

    def _tick(self) -> None:
        while (moment := due(self.job)) is not None and moment <= self.up:
            if not self.take(Tick()):
                return

    def say(self, *lines: str, sure: bool = True, score: str | None = None) -> "Simulator":
        """Lines, one after the other; with a score they come from an ear."""
        for line in lines:
            hearing = Hearing(line, Decimal(score), "test ear") if score else Hearing(line)
            self.take(Heard(hearing, sure))
        return self

    def mumble(self, times: int = 1) -> "Simulator":
        """Speech of which nothing is understood."""
        for _ in range(times):
            self.take(Unheard(Hearing("", Decimal("0.10"), "test ear")))
        return self

    def wait(self, seconds: float) -> "Simulator":
        """Time passes, tick by tick where something falls due."""
        until = self.up + round(seconds * 1000)
        while (moment := due(self.job)) is not None and moment <= until:
            self._move(max(moment, self.up))
            if not self.take(Tick()):
                break
        self._move(until)
        self._tick()
        return self

    def jump(self, seconds: float) -> "Simulator":
        """Time passes all at once, as when the machine slept."""
        self._move(self.up + round(seconds * 1000))
        self.take(Tick())
        return self

    def _move(self, up: int) -> None:
        self.at, self.up = self.at + up - self.up, up

    def come_back(self, after: float, same_boot: bool = True, mechanic: str = "") -> "Simulator":
        """The program was killed and starts again `after` seconds later."""
        self.at += round(after * 1000)
        self.up = self.up + round(after * 1000) if same_boot else 5_000
        self.take(CameBack("boot" if same_boot else "boot two", same_boot, mechanic=mechanic))
        return self

    def cut(self, count: int) -> "Simulator":
        """The same job with only its first `count` events left on the disk, as after a power cut."""
        cut = copy(self)
        cut.job, cut.spoken, cut.effects, cut.events, cut.stamps = None, [], [], self.events[:count], self.stamps[:count]
        for event, now in zip(cut.events, cut.stamps):
            cut.job = apply(cut.job, event, now)
        cut.at, cut.up = cut.stamps[-1].at_ms, cut.stamps[-1].up_ms
        return cut

    @property
    def last(self) -> str:
        """The last words spoken."""
        return self.spoken[-1]

    def since(self, count: int) -> str:
        """All words spoken since there were `count` of them."""
        return " ".join(self.spoken[count:])

    def kinds(self, kind: type[Event]) -> list[Event]:
        """All events of one kind so far."""
        return [event for event in self.events if isinstance(event, kind)]


#: Lines that lead the card `every-kind` to the step named.
TO = {
    "who": ("next",),
    "tidy": ("next", "alfa bravo", "affirm"),
}
TO["fitted"] = (*TO["tidy"], "next")
TO["torque"] = (*TO["fitted"], "affirm")
TO["suspect"] = (*TO["torque"], "7.5")
TO["rags"] = (*TO["suspect"], "cylinder two")
TO["codes"] = (*TO["rags"], "three")
TO["part"] = (*TO["codes"], "no codes")
TO["key-out"] = (*TO["part"], "alfa one bravo two", "affirm")
TO["pressure-wait"] = (*TO["key-out"], "next")
TO["rail-pressure"] = (*TO["pressure-wait"], 240)
TO["crack"] = (*TO["rail-pressure"], "zero bar")
TO["settling"] = (*TO["crack"], "pressure gone", "next", "affirm", "next", "next")
TO["start"] = (*TO["settling"], 120)
TO["watch"] = (*TO["start"], "next")


def at(step: str, **options: object) -> Simulator:
    """A simulator standing at a step of the card `every-kind`."""
    simulator = Simulator(**options)  # type: ignore[arg-type]
    for line in TO.get(step, ()):
        simulator.wait(line) if isinstance(line, int) else simulator.say(line)
    assert simulator.job.at == step, simulator.spoken[-3:]
    return simulator
