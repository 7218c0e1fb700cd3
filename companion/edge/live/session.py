"""Real time: a thread listens, a thread reads the keyboard, the player's thread speaks, this one decides."""
from __future__ import annotations

import queue
import sys
import threading
from typing import Callable, Optional, TextIO, Union

from companion.core.events import Event, Hearing
from companion.core.grammar import Listen
from companion.core.job.effects import Say
from companion.core.job.inputs import AlarmHeard, Heard, Input, MemoTaken, RoomHeard, SoundLost, SpokenToEnd
from companion.edge.alone.alarm import alarm_check
from companion.edge.attention import Attention
from companion.edge.clock import RealClock
from companion.edge.ear.steady import SteadyEar
from companion.edge.keys import Keys
from companion.edge.live.listeners import FileListener, MicrophoneListener
from companion.edge.live.parts import Parts
from companion.edge.loop import Closed, run, typed
from companion.edge.mouth import Mouth, SpokenMouth, spoken_to_end
from companion.edge.player import Ended, Player
from companion.edge.room import printed, room_check
from companion.edge.screen import Screen, screen_for
from companion.edge.sound import Sink
from companion.edge.threads import cause
from companion.edge.voice import SteadyVoice, Voice

_LONGEST_SPEECH_S = 30.0

Listener = Union[FileListener, MicrophoneListener]


class Live:
    """A job in real time. Every part may be missing but one way to answer: a keyboard or a listener."""

    def __init__(self, shown: TextIO, voice: Optional[Voice] = None, sink: Optional[Sink] = None,
                 listener: Optional[Listener] = None, keyboard: Optional[TextIO] = None, lines: bool = False,
                 attention: Attention = Attention(), notice: Callable[[str], None] = lambda text: None,
                 headset: bool = False) -> None:
        """`attention.keys`, or pedals, are watched beside the keyboard; `notice` gets a sentence for whoever set them up."""
        self.clock = RealClock()
        self._inbox: "queue.Queue[Input | Closed]" = queue.Queue()
        self._worker = None
        self._live: tuple[object, Listen] = (None, Listen())
        self._listener, self.attention, self._keys = listener, attention, None
        self.parts = Parts(self.put, self._changed)
        silent = voice is None or sink is None
        self.screen = screen_for(self._report if silent else _nobody, shown, lines)
        self.player = None if silent else Player(voice, sink, self._spoken, headset)
        recorder = listener.recorder if listener else None
        self.mouth: Mouth = SpokenMouth(self.player, self.screen, recorder) if self.player else self.screen
        if attention.keys:
            self._keys = Keys(self._pressed, self._released, attention.keys, notice=notice, on_end=self._typed_to_end,
                              on_line=lambda line: self.put(typed(line)))
        if keyboard is not None and not (self._keys and self._keys.gives_lines):
            threading.Thread(target=self._read, args=(keyboard,), name="keyboard", daemon=True).start()
        self._read_by = keyboard is not None or isinstance(self.screen, Screen)
        self._steady = [part for part in (voice, listener and listener.ear) if isinstance(part, (SteadyEar, SteadyVoice))]
        for part in self._steady:
            part.tell(self.parts.faltered, self.parts.noticed)

    def check_room(self) -> RoomHeard:
        """Listens to the room and to the mechanic, and says what to do about it. Before `begin`; for a microphone only."""
        room = room_check(self._say_out, lambda seconds: self._listener.hear(self, seconds))
        self._drop_answers()
        print(f"room: {printed(room)}", file=sys.stderr)
        return RoomHeard(**vars(room))

    @property
    def sounds(self) -> bool:
        """Whether it speaks aloud, not on the screen only."""
        return self.player is not None

    def check_alarm(self) -> AlarmHeard:
        """Sounds the alarm and listens to it. Before `begin`; for a microphone and a loudspeaker only."""
        heard = alarm_check(self._say_out, self.player.tone, lambda seconds: self._listener.hear(self, seconds))
        self.player.wait(_LONGEST_SPEECH_S)
        self._drop_answers()
        return heard

    def _drop_answers(self) -> None:
        """What was typed before the job was no answer to a step of it; a fault still counts."""
        waiting = [self._inbox.get_nowait() for _ in range(self._inbox.qsize())]
        for what in waiting:
            if not isinstance(what, Heard):
                self.put(what)

    def begin(self, worker, first: Input) -> None:
        """See `TypedSimulation`."""
        self.parts.watch_threads()
        self._listen_for(worker)
        worker.take(first)
        for part, why in tuple(self.parts.lost.items()):
            self.put(SoundLost(part, why))
        self.screen.show(worker)

    def drive(self, worker) -> Optional[Closed]:
        """Go on until over, or until the last input closes."""
        self._listen_for(worker)
        self.screen.show(worker)
        return run(worker, self._inbox, self._took)

    def close(self) -> None:
        """The last words are spoken to their end; then every part is let go."""
        self.mouth.close()
        if self._keys is not None:
            self._keys.close()
        if self._listener is not None:
            self._listener.close()
        for part in self._steady:
            part.close()
        self.parts.close()

    # -- for the listener, the devices and the keys --------------------------------------------------------------------

    @property
    def listening(self) -> Listen:
        """What makes sense now; worked out once for each state of the job."""
        worker = self._worker
        job = getattr(worker, "job", worker)
        if self._live[0] is not job:
            self._live = (job, worker.listening if worker is not None else Listen())
        return self._live[1]

    def put(self, what: "Input | Closed") -> None:
        """Hand over an input; from any thread."""
        self._inbox.put(what)

    def state(self, text: str) -> None:
        """The state of the sound, for the screen; a part that is lost matters more."""
        lost = next(iter(tuple(self.parts.lost)), "")
        self.screen.state(f"{lost} lost" if lost else text)

    # -- inside --------------------------------------------------------------------------------------------------------

    def _listen_for(self, worker) -> None:
        begun, self._worker = self._worker is not None, worker
        if self._listener is not None:
            log = getattr(worker, "log", None)
            self._listener.recorder.log = log.path if log is not None else None
            if not begun:
                self._listener.start(self)

    def _took(self, what: Input, made: tuple[Event, ...]) -> None:
        """What was said above the companion's own speech has been answered: it may speak again."""
        self.screen.took(self._worker, what, made)
        if self.player is not None and isinstance(what, Heard):
            self.player.go_on()
        if isinstance(what, MemoTaken) and not made:
            self._listener.recorder.forget(what)

    def _say_out(self, text: str) -> None:
        self.mouth.carry_out(Say(text))
        if self.player is not None:
            self.player.wait(_LONGEST_SPEECH_S)

    def _changed(self, part: str, there: bool) -> None:
        """Other devices are other to the canceller. Without hearing nobody lets a companion go on that paused to hear
        somebody; without a microphone nobody ends a memo."""
        if there and part in ("microphone", "loudspeaker"):
            self._listener.renew()
        if not there and part in ("microphone", "ear") and self.player is not None:
            self.player.go_on()
        memo = self._listener.recorder.cut() if part == "microphone" and not there else None
        if memo is not None:
            self.put(memo)
        self.state("listening")

    def _pressed(self, key: str) -> None:
        if key == self.attention.next_key:
            self.put(Heard(Hearing("next", None, "key", by="pressed")))
        if key == self.attention.talk_key and isinstance(self._listener, MicrophoneListener):
            self._listener.talk.press()

    def _released(self, key: str) -> None:
        if key == self.attention.talk_key and isinstance(self._listener, MicrophoneListener):
            self._listener.talk.release()

    def _report(self, tag: str) -> None:
        self.put(SpokenToEnd(tag))

    def _spoken(self, ended: Ended) -> None:
        """A loudspeaker that failed is opened afresh, and once it is found, what was lost is said again."""
        spoken_to_end(ended, self._report)
        if ended.fault is None:
            self.parts.spoken(ended)
        elif not ended.text:
            return
        elif ended.fault.where == "loudspeaker" and isinstance(self._listener, MicrophoneListener):
            self.put(SoundLost("loudspeaker", ended.fault.found))
            self._listener.doubt("loudspeaker")
        else:
            self.parts.unspoken(ended, self._read_by)

    def _read(self, keyboard: TextIO) -> None:
        fault = None
        try:
            for line in keyboard:
                self.put(typed(line))
        except (OSError, ValueError) as error:  # ValueError: it was closed, or these bytes are no text
            fault = error
            if self._listener is not None:
                self.parts.noticed("keyboard", False, cause(fault))
        self._typed_to_end(fault)

    def _typed_to_end(self, fault: Optional[Exception] = None) -> None:
        if self._listener is None:
            self.put(Closed("the keyboard", fault))


def _nobody(tag: str) -> None:
    """Where somebody else reports the end of speech."""
