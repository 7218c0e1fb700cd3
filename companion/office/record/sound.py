"""What the record tells of sound: memos, clips, devices lost and found, the room, and how the voice was set."""
from __future__ import annotations

from typing import Any, Iterator

from companion.core import events as ev
from companion.office.memos import AS_RECORDED
from companion.office.account import Account
from companion.office.record.paper.blocks import Sound
from companion.office.record.rows import Moment, Row, Span, digits, heard, row, text


def memos(account: Account) -> list[Row]:
    """Spoken notes: `kept` is when, None where nothing was; `why` not; `state` of the sound file as `verify` found it.

    `draft` is a machine's guess at the words."""
    states = {one["line"]: one["state"] for one in account.found["memos"]}
    rows: list[Row] = []
    for entry, event in account.of(ev.MemoBegun, ev.MemoKept, ev.MemoLost):
        if isinstance(event, ev.MemoBegun):
            rows.append(row(entry, memo=event.memo, kept=None, file="", ms=None, draft="", sha256="", state="", why=""))
        elif rows and rows[-1]["memo"] == event.memo:
            rows[-1].update(_ending(event, Moment(entry.at), states.get(entry.n + 1, "")))
    return rows


def _ending(event: Any, at: Moment, state: str) -> Row:
    if isinstance(event, ev.MemoLost):
        return {"why": event.why}
    return {"kept": at, "file": event.file, "ms": Span(event.ms), "draft": text(event.draft), "sha256": event.sha256,
            "state": state}


def clips(account: Account) -> list[Row]:
    """Sound kept as evidence: of which line and `answer`, its file, and its `state` as `verify` found it; `why` one is lost."""
    states = {one["line"]: one["state"] for one in account.found["memos"]}
    rows: list[Row] = []
    for entry, event in account.of(ev.ClipKept, ev.ClipLost):
        said = next((one for one in account.entries[entry.n - 1::-1] if one.event.heard is not None), entry)
        answer = heard(said).get("words", "")
        lost = {"file": "", "ms": None, "sha256": "", "state": "", "why": getattr(event, "why", "")}
        found = {"file": event.file, "ms": Span(event.ms), "sha256": event.sha256, "state": states.get(entry.n + 1, ""),
                 "why": ""} if isinstance(event, ev.ClipKept) else lost
        rows.append(row(entry, of_line=said.n + 1, answer=answer, **found))
    return rows


def losses(account: Account) -> list[Row]:
    """When a part that hears or speaks was gone, and when it was `found` again; a restart begins with all parts."""
    rows: list[Row] = []
    gone: dict[str, Row] = {}
    for entry, event in account.of(ev.SoundWasLost, ev.SoundWasFound, ev.JobResumed):
        if isinstance(event, ev.SoundWasLost):
            gone[event.part] = row(entry, part=event.part, why=event.why, found=None)
            rows.append(gone[event.part])
        else:
            back = list(gone) if isinstance(event, ev.JobResumed) else [event.part] * (event.part in gone)
            for part in back:
                gone.pop(part)["found"] = Moment(entry.at)
    return rows


def faults(account: Account) -> list[Row]:
    """What failed for a moment and went on, sound that stuttered, a time of day that was set."""
    return [row(entry, **_fault(event)) for entry, event in account.of(
        ev.PartFaltered, ev.SoundStuttered, ev.StillDeaf, ev.TimeOfDaySet)]


def _fault(event: Any) -> Row:
    if isinstance(event, ev.SoundStuttered):
        return {"part": event.part, "what": f"sound was lost {event.times} times", "ms": Span(event.ms)}
    if isinstance(event, ev.TimeOfDaySet):
        return {"part": "time of day", "what": "set on" if event.by_ms > 0 else "set back", "ms": Span(abs(event.by_ms))}
    if isinstance(event, ev.StillDeaf):
        return {"part": "hearing", "what": "it said again that it heard nothing", "ms": None}
    return {"part": event.part, "what": event.why or "it failed", "ms": None}


def rooms(account: Account) -> list[Row]:
    """How well the ear could hear: levels in dBFS, their distance in dB, percent of samples at full scale."""
    return [row(entry, verdict=event.verdict, noise_db=digits(event.noise_db), speech_db=digits(event.speech_db),
                ratio_db=digits(event.ratio_db), clipped=digits(event.clipped), advice=list(event.advice))
            for entry, event in account.of(ev.RoomMeasured)]


def voices(account: Account) -> list[Row]:
    """Each change of the voice: speed in percent and loudness in dB of its own."""
    return [row(entry, word=event.word, speed=event.speed, loudness=event.loudness)
            for entry, event in account.of(ev.VoiceSet)]


# -- on the page -------------------------------------------------------------------------------------------------------

def playable(data: Row) -> list[Row]:
    """Memos whose sound lies beside the log as it was recorded; no other file is ever linked."""
    return [one for one in data["memos"] if one["state"] == AS_RECORDED]


def players(data: Row) -> Iterator[Sound]:
    """A player for each of them."""
    return (Sound(f"Memo {one['memo']}", one["file"], one["draft"]) for one in playable(data))
