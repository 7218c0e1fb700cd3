"""`companion job CARD`: one job, live or typed, new or taken up again."""
from __future__ import annotations

import argparse
import sys
import uuid
from contextlib import closing, contextmanager
from datetime import date, datetime, timezone
from pathlib import Path
from typing import Iterator, Optional

from companion.core.card import Card
from companion.core.job.effects import Hush, Say
from companion.core.job.inputs import CameBack, Input, MessageDone, Opened
from companion.core.job.alone.words import left
from companion.core.log.journal import public_hex
from companion.core.numbers import say_number
from companion.edge.alone import alarm, options
from companion.edge.alone.calling import CallingMouth, Calls
from companion.edge.cards import read_card
from companion.edge.clock import SimulatedClock
from companion.edge.device import boot_id, device_key, home
from companion.edge.logfile import LogFile
from companion.edge.loop import Closed, Companion, replayed
from companion.edge.opening import opened, tools_for
from companion.edge.resumable import Found, Offer, look, unfinished
from companion.edge.equipment import Equipment
from companion.edge.threads import cause
from companion.errors import BadInput, CompanionError
from companion.terminal import clean

EXAMPLES = """examples:
  companion job learning --typed                         answers typed, one a line
  companion job learning                                 spoken and heard
  companion job road-wheels --typed --clock simulated    "wait 3 min" lets that much time pass
  companion job learning --sound-in answers.wav --sound-out spoken.wav
  companion job learning --talk-key f9                   answers count while the pedal is held
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of `companion job`."""
    parser.epilog, parser.formatter_class = EXAMPLES, argparse.RawDescriptionHelpFormatter
    parser.add_argument("card", help="a job card's file, or the name of a shipped one")
    parser.add_argument("--typed", action="store_true", help="answers come from standard input, one a line")
    parser.add_argument("--clock", choices=("real", "simulated"), default="real",
                        help='simulated: a typed line "wait 3 min" lets that much time pass; sound passes its own length')
    parser.add_argument("--log", type=Path, help="the log's file, ending in .jsonl (default: a new one in the jobs folder)")
    parser.add_argument("--sound-in", type=Path, metavar="WAV", help="a sound file instead of the microphone; it waits "
                        "while the companion speaks")
    parser.add_argument("--sound-out", type=Path, metavar="WAV", help="a sound file instead of the loudspeaker")
    parser.add_argument("--ear", choices=("auto", "embedded", "vosk", "typed"), default="auto", help="who listens; auto: "
                        "a Vosk model where one lies in the models folder, else the embedded ear")
    parser.add_argument("--model", type=Path, metavar="FOLDER", help="a Vosk model (models/README.md)")
    parser.add_argument("--attention", default="", metavar="WORD", help='each answer begins with this word, such as '
                        '"companion"; stop and emergency need none')
    parser.add_argument("--talk-key", default="", metavar="KEY", help='a key or pedal held to talk; stop and emergency '
                        'need none. "companion keys" tells the name of what is pressed')
    parser.add_argument("--next-key", default="", metavar="KEY", help='a key or pedal pressed for "next"')
    parser.add_argument("--voice", choices=("auto", "system", "builtin", "none"), default="auto",
                        help="who speaks; none only prints")
    parser.add_argument("--no-room-check", action="store_true", help="begin at once: the room is not listened to, nor is the "
                        "day's test of the alarm sounded")
    parser.add_argument("--lines", action="store_true", help="a line for each thing said, instead of the screen")
    parser.add_argument("--tools", type=Path, metavar="FILE", help="the list of measuring tools (default: tools.yaml "
                        "beside the card, where the card asks for one)")
    parser.add_argument("--brief", action="store_true", help="shorter words for whoever knows the job; cautions stay whole")
    parser.add_argument("--mechanic", default="", metavar="NAME", help="who works; kept beside the log, never in it")
    parser.add_argument("--keep-clips", action="store_true", help="keep the sound of each answer that changes the log beside "
                        "it, as evidence; what is personal is left out, and it is said at the start")
    options.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Work the job. 0: done or left by "stop job"; 1: the inputs ended before the job, or before the disk
    took all of its log."""
    card = read_card(args.card)
    tools_for(card, args.card, args.tools)  # a fault of the list is told before anything is opened
    device_key()  # its passphrase is asked for now, and never in the middle of a job
    typed = args.typed or args.ear == "typed"
    if typed and args.sound_in:
        raise BadInput("--typed", "must stand without --sound-in", do="Leave one of them out")
    contacts = options.contacts_of(args, args.clock == "simulated")
    args.lone = options.terms_of(args, len(contacts), datetime.now().astimezone())
    session = Equipment(args, typed).session()
    calls = Calls(contacts, session.put if contacts else _nobody_to_tell)
    session.mouth = CallingMouth(session.mouth, calls)
    with _sent_on(calls), closing(session):
        checked = () if typed or args.sound_in or args.no_room_check else _checks(session)
        opened = _open(args, card, session, session.ear)
        if opened is None:
            return 1
        log, companion, first = opened
        with log:
            return _work(session, companion, first, checked)


@contextmanager
def _sent_on(calls: Calls) -> Iterator[None]:
    """However the job ends, what is still to be sent is waited for a little."""
    try:
        yield
    finally:
        if not calls.close():
            print("companion: the last message to the contacts could not be sent. Tell them yourself", file=sys.stderr)


def _nobody_to_tell(done: MessageDone) -> None:
    raise AssertionError("without contacts no message is sent")


def _checks(session) -> tuple[Input, ...]:
    """Listening to the room, and once a day to the alarm: what the job is told of them."""
    room = session.check_room()
    if not (session.sounds and alarm.due(home(), date.today())):
        return (room,)
    return (room, session.check_alarm())


def _work(session, companion: Companion, first: Input, checked: tuple[Input, ...]) -> int:
    print(f"log: {clean(str(companion.log.path))}", file=sys.stderr)
    closed = _driven(session, companion, first, checked)
    if companion.job and companion.job.lone and companion.job.lone.alarm_heard:
        alarm.note(home(), date.today())
    lost = companion.last_try()
    if lost:
        return _never_written(session, companion, lost)
    return 0 if companion.over else _left_off(session, companion, closed)


def _driven(session, companion: Companion, first: Input, checked: tuple[Input, ...]) -> Optional[Closed]:
    """What the job ended of, if not of itself. A fault of the program is one such, but for a simulation, which is to fail."""
    try:
        session.begin(companion, first)
        for what in checked:
            session.put(what)
        return session.drive(companion)
    except KeyboardInterrupt:
        session.mouth.carry_out(Hush())
        return Closed("the keyboard")
    except Exception as fault:
        if companion.job is None or isinstance(session.clock, SimulatedClock):
            raise
        return Closed("the program", fault)


def _left_off(session, companion: Companion, closed: Optional[Closed]) -> int:
    """The program ends before the job: it is said, and that nobody checks on the mechanic any more."""
    fault = closed.fault if closed else None
    if fault is not None:
        session.mouth.carry_out(Say(f"{closed.what.capitalize()} has failed. The job is kept. Open it again to go on."))
        print(f"companion: {closed.what} failed: {clean(cause(fault))}", file=sys.stderr)
    for effect in left(companion.job) if companion.job else ():
        session.mouth.carry_out(effect)
    print(f"companion: the inputs have ended and the job is not done. Go on with: companion job … --log "
          f"{clean(str(companion.log.path))}", file=sys.stderr)
    if isinstance(fault, CompanionError):
        raise fault
    return 1


def _never_written(session, companion: Companion, lost: int) -> int:
    """The program ends with entries that the disk never took."""
    what = "entry was" if lost == 1 else "entries were"
    session.mouth.carry_out(Say(f"{say_number(str(lost))} {what} never written. They are lost. The log ends before them."))
    print(f"companion: {lost} {what} never written, and are lost: {companion.job.held}. What was logged before is kept in "
          f"{clean(str(companion.log.path))}", file=sys.stderr)
    return 1


# -- the log -----------------------------------------------------------------------------------------------------------

def _open(args: argparse.Namespace, card: Card, session, ear: str) -> Optional[tuple[LogFile, Companion, Input]]:
    """A new log, or an unfinished one if the mechanic wants to go on with it; None when that was not answered."""
    found = _found(args.log, card)
    if found is not None and not found.card_name:
        return _open_again(args, card, found.path, session, ear)
    if found is not None:
        offer = Offer(found, session.mouth, card.emergency, options.help_text(card, args.mechanic, args.place))
        offer.ask()
        if session.drive(offer) is not None:
            return None
        if offer.answer:
            return _open_again(args, card, found.path, session, ear)
        if args.log:
            raise BadInput(str(args.log), "holds an unfinished job", do="Give a new name with --log, or resume it")
    return _open_new(args, card, session, ear)


def _found(path: Optional[Path], card: Card) -> Optional[Found]:
    if path is None:
        folder = _jobs()
        return unfinished(folder, card.id) if folder.is_dir() else None
    if not path.exists():
        return None
    found = look(path)
    if found is None:
        raise BadInput(str(path), "the job is finished and its log is closed", do="Give a new name with --log")
    if found.card_name not in ("", card.id):
        raise BadInput(str(path), f"must be a job on the card {card.id}", found.card_name)
    return found


def _jobs() -> Path:
    return home() / "jobs"


def _boot(session) -> str:
    """Simulated time is never compared with the machine's own, nor with that of another run."""
    return f"simulated {uuid.uuid4()}" if isinstance(session.clock, SimulatedClock) else boot_id()


def _open_new(args: argparse.Namespace, card: Card, session, ear: str) -> tuple[LogFile, Companion, Input]:
    log = LogFile.create(args.log or _new_path(card), device_key())
    return log, Companion(log, session.clock, session.mouth), _opened(args, card, session, ear)


def _opened(args: argparse.Namespace, card: Card, session, ear: str) -> Opened:
    return opened(card, tools_for(card, args.card, args.tools), boot=_boot(session), key=public_hex(device_key()),
                  ear=ear, voice=session.voice, attention=session.attention_name, brief=args.brief, mechanic=args.mechanic,
                  lone=args.lone, clips=_clips(args))


def _clips(args: argparse.Namespace) -> str:
    return "kept" if args.keep_clips else ""


def _new_path(card: Card) -> Path:
    folder = _jobs()
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"{card.id}-{datetime.now(timezone.utc):%Y%m%d-%H%M%SZ}"  # not local: an hour that comes twice would mix them up
    numbered = (folder / f"{stem}{ending}.jsonl" for ending in ("", *(f"-{n}" for n in range(2, 1000))))
    return next(path for path in numbered if not path.exists())


def _open_again(args: argparse.Namespace, card: Card, path: Path, session, ear: str) -> tuple[LogFile, Companion, Input]:
    log, entries, torn = LogFile.resume(path, device_key())
    if not entries:  # killed before its first line was whole: nothing was acknowledged
        return log, Companion(log, session.clock, session.mouth), _opened(args, card, session, ear)
    boots = [entry.event.boot for entry in entries if hasattr(entry.event, "boot")]
    boot = _boot(session)
    back = CameBack(boot=boot, same_boot=boots[-1:] == [boot], torn_bytes=len(torn), ear=ear, mechanic=args.mechanic,
                    lone=args.lone, clips=_clips(args))
    return log, Companion(log, session.clock, session.mouth, replayed(entries)), back
