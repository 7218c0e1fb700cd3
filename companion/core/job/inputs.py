"""What reaches the core from outside. Time is always an argument: `Now`."""
from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Optional, Union

from companion.core.events import Hearing


@dataclass(frozen=True)
class Now:
    """Two clocks at one moment."""

    at_ms: int
    """Wall clock, milliseconds since 1970 UTC; may step."""
    up_ms: int
    """Milliseconds of a clock that never steps back and counts suspend where the system has one."""


@dataclass(frozen=True)
class LoneTerms:
    """How whoever works alone is to be looked after, beside what the card says."""

    every_ms: int = 0
    """For so long at the most nothing is heard; 0: as the card says."""
    contacts: int = 0
    """How many get a message when help is called."""
    place: str = ""
    """Where the work is."""
    call_by_ms: int = 0
    """Wall clock: when a contact calls, if nothing was heard until then; 0: never."""
    call_by_said: str = ""
    """The same as it is said there."""


@dataclass(frozen=True)
class Opened:
    """A new job. The card's text is whole, so that the log holds it."""

    card_name: str
    card_text: str
    card_sha256: str
    program: str
    boot: str
    key: str
    ear: str
    voice: str
    brief: bool = False
    mechanic: str = ""
    tools_name: str = ""
    """The list of measuring tools, whole like the card; "" where there is none."""
    tools_text: str = ""
    tools_sha256: str = ""
    attention: str = ""
    """How it listens: open, "word: NAME", or key held."""
    clips: str = ""
    """kept, where the sound of what is answered is kept as evidence."""
    lone: Optional[LoneTerms] = None
    """None: not even the card's terms hold, as in a test."""


@dataclass(frozen=True)
class CameBack:
    """An unfinished log was opened again."""

    boot: str
    same_boot: bool
    torn_bytes: int = 0
    ear: str = ""
    mechanic: str = ""
    """Given by whoever starts the program; "" when not given."""
    clips: str = ""
    """As in `Opened`."""
    lone: Optional[LoneTerms] = None
    """How whoever goes on is looked after: it holds beside what the job agreed on."""


@dataclass(frozen=True)
class Clip:
    """The sound of one utterance, as evidence."""

    sound: bytes
    """A FLAC file."""
    ms: int
    """Its length."""
    file: str = ""
    """The name it gets beside the log; "" where it could not be written."""


@dataclass(frozen=True)
class Heard:
    """Words that fit what was listened for. `sure` is the ear's own judgement; typed lines are sure."""

    hearing: Hearing
    sure: bool = True
    clip: Optional[Clip] = None
    """Its sound, where that is kept."""


@dataclass(frozen=True)
class Unheard:
    """Somebody spoke, and nothing of it was accepted."""

    hearing: Optional[Hearing] = None


@dataclass(frozen=True)
class SpokenToEnd:
    """The last word of the speech tagged `tag` has sounded."""

    tag: str
    shown: bool = False
    """It did not sound: it stands on the screen in place of a voice that failed."""


@dataclass(frozen=True)
class MemoTaken:
    """A memo's recording has ended. Where `decide` makes nothing of it, the memo is no longer waited for."""

    memo: int
    """Its number, as `Record` gave it."""
    file: str = ""
    """The sound file's name, without its folder; durable. "" where nothing was said."""
    sha256: str = ""
    ms: int = 0
    """Length of the sound."""
    draft: str = ""
    """A machine's guess at the words."""
    fault: str = ""
    """Why nothing could be recorded, in words a voice can say; "" where something was."""


@dataclass(frozen=True)
class SoundLost:
    """A part that hears or speaks is gone."""

    part: str
    """microphone, loudspeaker, ear, voice or sound file, as in the event `SoundWasLost`."""
    why: str = ""


@dataclass(frozen=True)
class SoundFound:
    """It is back."""

    part: str


@dataclass(frozen=True)
class Faltered:
    """A part failed and works on, or was started anew; the fields are those of the event `PartFaltered`."""

    part: str
    why: str = ""


@dataclass(frozen=True)
class Stuttered:
    """A spell of lost sound is over; the fields are those of the event `SoundStuttered`."""

    part: str
    times: int
    ms: int


@dataclass(frozen=True)
class RoomHeard:
    """How well the ear can hear here; the fields are those of the event `RoomMeasured`."""

    verdict: str
    noise_db: Decimal
    speech_db: Optional[Decimal] = None
    ratio_db: Optional[Decimal] = None
    clipped: Decimal = Decimal(0)
    advice: tuple[str, ...] = ()


@dataclass(frozen=True)
class MessageDone:
    """A message to the contacts is on its way, or cannot be sent. The fields are those of the event `MessageSent`."""

    kind: str
    sent: bool
    why: str = ""
    unreached: int = 0


@dataclass(frozen=True)
class AlarmHeard:
    """The alarm was sounded for the day's test. The fields are those of the event `AlarmSounded`."""

    verdict: str
    noise_db: Optional[Decimal] = None
    ratio_db: Optional[Decimal] = None


@dataclass(frozen=True)
class LogFailed:
    """The disk did not take an entry; from now on they are kept in memory."""

    why: str
    """As in the event `LogHeldBack`."""


@dataclass(frozen=True)
class LogWritten:
    """Everything that was kept in memory is on the disk."""

    entries: int
    """How many, seals not counted."""


@dataclass(frozen=True)
class Tick:
    """Time has passed."""


Input = Union[Opened, CameBack, Heard, Unheard, SpokenToEnd, MemoTaken, SoundLost, SoundFound, Faltered, Stuttered,
              RoomHeard, MessageDone, AlarmHeard, LogFailed, LogWritten, Tick]
