"""Devices that are lost and found again, on a clock of the test's own and a library that stands for PortAudio."""
from __future__ import annotations

from collections.abc import Callable

import pytest

from companion.edge.sound.loudspeaker import STARTING, Loudspeaker
from companion.edge.sound.microphone import Microphone
from companion.edge.sound.portaudio import LATENCIES
from companion.edge.sound.streams import AFRESH, DEAF, DEAF_AFTER, GONE, LOOK, STARVED, Streams
from companion.errors import BrokenMachine
from fake_portaudio import Clock, FakePortAudio

PARTS = ("microphone", "loudspeaker")
TOLD_WITHIN_S = 2.0


class Desk:
    """Both devices, running for long enough that they count as settled."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.sounds, self.clock = FakePortAudio(), Clock(patch)
        patch.setattr("companion.edge.sound.streams.library", lambda: self.sounds)
        self.microphone, self.sink = Microphone(), Loudspeaker()
        self.news: list[tuple[float, str, bool, str]] = []
        self.spells: list[tuple[str, int, int]] = []
        self.streams = Streams(dict.fromkeys(PARTS), self.microphone, self.sink, self._told,
                               lambda *spell: self.spells.append(spell))
        self.streams.open()
        self.wait(STARTING + 3)
        assert self.news == [] and self.spells == []

    def _told(self, part: str, there: bool, why: str) -> None:
        self.news.append((self.clock.now, part, there, why))

    def wait(self, seconds: float) -> None:
        """Callbacks and looks go on."""
        assert LOOK == 0.1
        self.clock.passes(seconds, self._go_on)

    def _go_on(self) -> None:
        self.sounds.call(self.clock.now)
        self.streams.look()

    @property
    def told(self) -> list[tuple[str, bool]]:
        """Without times and reasons."""
        return [(part, there) for _, part, there, _ in self.news]

    def running(self) -> set[str]:
        """The parts that have a stream."""
        return {part for part in PARTS if self.sounds.running(part)}


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch) -> Desk:
    """One for each test."""
    return Desk(monkeypatch)


def pulled_out(desk: Desk, part: str) -> None:
    """The device is gone: no more callbacks, and it cannot be opened."""
    desk.sounds.plugged.discard(part)


def hung(desk: Desk, part: str) -> None:
    """The system goes on as if the device were there, but nothing comes, and it cannot be stopped or opened."""
    desk.sounds.silent.add(part)
    desk.sounds.stuck.add(part)


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("fails", [pulled_out, hung])
def test_what_is_lost_is_told_once_and_within_two_seconds(desk: Desk, part: str,
                                                          fails: Callable[[Desk, str], None]) -> None:
    """After the last callback; the other device is never told lost, and runs again after each attempt."""
    last = desk.clock.now
    fails(desk, part)
    desk.wait(60)
    (when, *what), = [news for news in desk.news if not news[2]]
    assert when - last <= TOLD_WITHIN_S and what == [part, False, GONE]
    assert desk.running() == set(PARTS) - {part} and part not in [found for found, there in desk.told if there]


@pytest.mark.parametrize("part", PARTS)
def test_what_was_connected_again_is_found_though_portaudio_must_start_afresh(desk: Desk, part: str) -> None:
    """Within eight seconds, the other device is opened again too, and no stream is left open."""
    pulled_out(desk, part)
    desk.wait(20)
    assert desk.sounds.starts >= 2
    begun, desk.news = desk.clock.now, []
    desk.sounds.plugged.add(part)
    desk.wait(8)
    assert (part, True) in desk.told and (part, False) not in desk.told
    assert desk.news[-1][0] - begun < AFRESH + 2
    assert desk.running() == set(PARTS) and sum(not stream.closed for stream in desk.sounds.streams) == 2
    desk.news.clear()
    desk.wait(30)
    assert desk.news == []


def test_the_healthy_device_is_interrupted_seldom(desk: Desk) -> None:
    """For a microphone that stays away, PortAudio is started afresh at most every five seconds."""
    pulled_out(desk, "microphone")
    desk.wait(60)
    assert 8 <= desk.sounds.starts <= 60 / AFRESH


def test_with_both_devices_gone_they_are_looked_for_every_second(desk: Desk) -> None:
    """Nobody is interrupted by it; each is told lost once, and found when it is there."""
    for part in PARTS:
        pulled_out(desk, part)
    desk.wait(30)
    assert sorted(desk.told) == [("loudspeaker", False), ("microphone", False)] and desk.sounds.starts > 20
    desk.sounds.plugged.update(PARTS)
    desk.wait(1.5)
    assert sorted(desk.told[2:]) == [("loudspeaker", True), ("microphone", True)] and desk.running() == set(PARTS)


def test_a_healthy_device_that_does_not_come_back_is_told_lost(desk: Desk) -> None:
    """It was closed to look for the other one, and then it was gone."""
    pulled_out(desk, "microphone")
    desk.wait(3)
    desk.sounds.stuck.add("loudspeaker")
    desk.wait(30)
    assert desk.told == [("microphone", False), ("loudspeaker", False)] and desk.running() == set()


@pytest.mark.parametrize("part", PARTS)
def test_a_device_that_can_be_opened_again_needs_no_fresh_start(desk: Desk, part: str) -> None:
    """It is opened a second later, and the other one is left alone."""
    other = desk.sounds.running(({*PARTS} - {part}).pop())
    desk.sounds.silent.add(part)
    desk.wait(2)
    desk.sounds.silent.clear()
    desk.wait(2)
    assert desk.told == [(part, False), (part, True)]
    assert desk.sounds.starts == 0 and other.running and desk.running() == set(PARTS)


@pytest.mark.parametrize("part", PARTS)
def test_just_after_its_start_a_device_may_rest_for_longer(desk: Desk, part: str) -> None:
    """A sound server may: four seconds without a callback are no loss then, and are later."""
    desk.streams.doubt(part)
    desk.wait(1.3)
    assert desk.told == [(part, False), (part, True)]
    desk.sounds.silent.add(part)
    desk.wait(4)
    desk.sounds.silent.clear()
    desk.wait(STARTING + 1)
    assert len(desk.news) == 2
    desk.sounds.silent.add(part)
    desk.wait(4)
    assert desk.told[2] == (part, False)


@pytest.mark.parametrize("part", PARTS)
def test_a_doubted_device_is_closed_and_opened_again(desk: Desk, part: str) -> None:
    """Though its callbacks come; doubting it while it is gone does not close it a second time."""
    stream = desk.sounds.running(part)
    desk.streams.doubt(part)
    desk.wait(0.1)
    assert desk.told == [(part, False)] and stream.closed
    desk.streams.doubt(part)
    desk.wait(5)
    assert desk.told == [(part, False), (part, True)] and desk.running() == set(PARTS) and desk.sounds.starts == 0


def test_plain_zeros_are_told_as_lost_and_sound_as_found(desk: Desk) -> None:
    """After four seconds; another microphone is looked for. Shorter silence is nothing, and the softest sound ends it."""
    desk.sounds.level = 0.0
    desk.wait(DEAF_AFTER - 0.5)
    desk.sounds.level = 1e-6
    desk.wait(0.1)
    desk.sounds.level = 0.0
    desk.wait(DEAF_AFTER + 0.2)
    assert [news[1:] for news in desk.news] == [("microphone", False, DEAF)]
    assert desk.running() == set(PARTS)
    begun = desk.sounds.starts
    desk.wait(20)
    assert desk.sounds.starts - begun == 3  # PortAudio sees what was connected since only when it starts afresh
    desk.sounds.level = 1e-6
    desk.wait(0.1)
    assert [news for news in desk.told if news[0] == "microphone"] == [("microphone", False), ("microphone", True)]


def test_a_muted_microphone_that_is_opened_again_is_not_told_found(desk: Desk) -> None:
    """Looking for the loudspeaker opens it again and again; it is found when it gives sound."""
    desk.sounds.level = 0.0
    desk.wait(DEAF_AFTER + 0.2)
    pulled_out(desk, "loudspeaker")
    desk.wait(30)
    assert desk.told == [("microphone", False), ("loudspeaker", False)]
    desk.sounds.level = 0.1
    desk.wait(0.2)
    assert desk.told[2:] == [("microphone", True)]


def test_a_starving_loudspeaker_gets_more_room_until_there_is_no_more(desk: Desk) -> None:
    """It is not told lost, the microphone is left alone, and PortAudio goes on."""
    microphone = desk.sounds.running("microphone")
    desk.sounds.starves = 1
    desk.wait(60)
    widths = [stream.options["latency"] for stream in desk.sounds.streams if stream.part == "loudspeaker"]
    assert widths == list(LATENCIES["loudspeaker"]) and desk.running() == set(PARTS)
    assert not any(part == "microphone" or not there for part, there in desk.told)
    assert microphone.running and desk.sounds.starts == 0


def test_a_loudspeaker_that_starves_at_its_start_or_seldom_keeps_its_room(desk: Desk) -> None:
    """At the start all do; now and then is heard less than more latency would be."""
    desk.streams.doubt("loudspeaker")
    desk.wait(1.2)
    desk.sounds.starves = 1
    desk.wait(STARTING - 1)
    desk.sounds.starves = 0
    desk.wait(10)
    for _ in range(20):
        desk.sounds.starves = 1
        desk.wait(0.1 * (STARVED - 1))
        desk.sounds.starves = 0
        desk.wait(2)
    assert desk.sounds.running("loudspeaker").options["latency"] == LATENCIES["loudspeaker"][0]


@pytest.mark.parametrize("part", PARTS)
def test_lost_sound_is_told_once_a_spell_and_nothing_else_is(desk: Desk, part: str) -> None:
    """Three losses in 0.3 s, on either side, are one spell, told when ten seconds have been quiet; no device is lost by it."""
    desk.sounds.starves, desk.sounds.overflow = (1, "") if part == "loudspeaker" else (0, "input overflow")
    desk.wait(0.3)
    desk.sounds.starves, desk.sounds.overflow = 0, ""
    desk.wait(9)
    assert desk.spells == []
    desk.wait(3)
    assert desk.spells == [(part, 3, 200)] and desk.news == []


def test_the_latency_of_a_wider_stream_counts_for_what_is_played(desk: Desk) -> None:
    """`drain` waits for it."""
    assert desk.sink.latency == pytest.approx(0.06)
    desk.sounds.starves = 1
    desk.wait(3)
    assert desk.sink.latency == pytest.approx(0.13)


@pytest.mark.parametrize("part", PARTS)
def test_a_device_that_is_missing_at_the_start_is_named(monkeypatch: pytest.MonkeyPatch, part: str) -> None:
    """With what to do; later it would only be told."""
    sounds = FakePortAudio()
    monkeypatch.setattr("companion.edge.sound.streams.library", lambda: sounds)
    sounds.seen.discard(part)
    streams = Streams(dict.fromkeys(PARTS), Microphone(), Loudspeaker(), lambda *news: None)
    with pytest.raises(BrokenMachine, match=f"{part}: a device must be there, not no .*Connect one.*--typed"):
        streams.open()
    streams.close()
    assert all(stream.closed for stream in sounds.streams)


def test_a_library_that_does_not_start_again_is_tried_until_it_does(desk: Desk) -> None:
    """The sound system may be starting itself; whoever looks goes on looking."""
    for part in PARTS:
        pulled_out(desk, part)
    desk.wait(3)
    desk.sounds.fails = True
    desk.wait(10)
    desk.sounds.fails = False
    desk.sounds.plugged.update(PARTS)
    desk.wait(1.5)
    assert desk.running() == set(PARTS)
