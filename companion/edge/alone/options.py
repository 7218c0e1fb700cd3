"""What `companion job` asks about working alone: how often to check, who is called, where, and until when."""
from __future__ import annotations

import argparse
import re
from datetime import datetime, timedelta
from pathlib import Path

from companion.core.card import Card
from companion.core.card.fields import milliseconds_of
from companion.core.job.alone.times import LEAST_MS, MOST_MS
from companion.core.job.inputs import LoneTerms
from companion.core.numbers import say_number
from companion.edge.alone.calling import Contact, read_contacts
from companion.edge.device import home
from companion.errors import BadInput

_LONGEST_AHEAD = timedelta(hours=16)
"""A night's work is shorter; whoever names a time that has just passed does not mean tomorrow."""
CONTACTS = "contacts"
"""The file in the device's folder that is read where none is named."""
_LONGEST_PLACE = 200


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options about working alone."""
    group = parser.add_argument_group("working alone")
    group.add_argument("--check-every", default="", metavar="TIME", help='check on the mechanic when nothing is heard for so '
                       'long, such as "15 min"; a card that says less keeps its own')
    group.add_argument("--contacts", type=Path, metavar="FILE", help="who gets a message when there is no answer: one address "
                       "of apprise a line (default: the file contacts in the device's folder)")
    group.add_argument("--place", default="", metavar="TEXT", help="where the work is, for the messages; kept beside the log")
    group.add_argument("--call-by", default="", metavar="HH:MM", help="when a contact calls, if nothing was heard until then")
    group.add_argument("--headset", action="store_true", help="the sound is heard in a headset: the alarm is no louder there "
                       "than other tones (a device that calls itself one is known without this)")


def contacts_of(args: argparse.Namespace, simulated: bool) -> tuple[Contact, ...]:
    """Who gets messages; in simulated time nobody. Raises BadInput."""
    if simulated and args.contacts:
        raise BadInput("--contacts", "goes with real time: in simulated time nobody is called")
    path = args.contacts or home() / CONTACTS
    if simulated or not (args.contacts or path.is_file()):
        return ()
    return read_contacts(path)


def terms_of(args: argparse.Namespace, contacts: int, now: datetime) -> LoneTerms:
    """The terms of a new job; `now` is local time. Raises BadInput."""
    every = milliseconds_of(args.check_every) if args.check_every else 0
    if every is None or (args.check_every and not LEAST_MS <= every <= MOST_MS):
        raise BadInput("--check-every", 'must be a time from 2 min to 4 h, such as "15 min"', ascii(args.check_every)[:40])
    if len(args.place) > _LONGEST_PLACE:
        raise BadInput("--place", f"must be at most {_LONGEST_PLACE} characters long", str(len(args.place)))
    at = _next(args.call_by, now) if args.call_by else None
    return LoneTerms(every, contacts, args.place, round(at.timestamp() * 1000) if at else 0, _said(at) if at else "")


def help_text(card: Card, mechanic: str, place: str) -> str:
    """What the contacts get when an emergency is called before a job goes on."""
    practice = "PRACTICE, no real job. " if card.practice else ""
    return (f"{practice}{mechanic or 'The mechanic'} calls an emergency. Job: {card.title}. Place: {place or 'not given'}. "
            "Act as agreed, now.")


def _next(text: str, now: datetime) -> datetime:
    """The next time the clock on the wall shows `text`."""
    found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", text.strip(), re.ASCII)
    if not found:
        raise BadInput("--call-by", "must be a time of day such as 16:40", ascii(text)[:40])
    at = now.replace(hour=int(found[1]), minute=int(found[2]), second=0, microsecond=0)
    at = at if at > now else (at.replace(tzinfo=None) + timedelta(days=1)).astimezone()
    if at - now > _LONGEST_AHEAD:
        raise BadInput("--call-by", f"must be within {_LONGEST_AHEAD // timedelta(hours=1)} hours from now", text.strip(),
                       do="If it has passed today, give a later one")
    return at


def _said(at: datetime) -> str:
    """"sixteen forty", "sixteen oh five", "sixteen hundred"."""
    minutes = "hundred" if not at.minute else f"oh {say_number(str(at.minute))}" if at.minute < 10 else say_number(str(at.minute))
    return f"{say_number(str(at.hour))} {minutes}"
