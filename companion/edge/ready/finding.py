"""What one check found, and what is to be done about it on this system."""
from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from companion.errors import CompanionError

STATES = ("fine", "weak", "missing", "skipped")
"""Usable; usable but poor; not usable; not looked at, because something else is missing or it was not wanted."""


@dataclass(frozen=True)
class Finding:
    """One check's answer."""

    state: str
    """One of `STATES`."""
    found: str
    """One sentence: what is there."""
    do: str = ""
    """Exactly what to do about it on this system; "" where nothing is to be done."""
    figures: dict[str, Any] = field(default_factory=dict)
    """The same for a program: numbers and names that JSON can hold."""


def fine(found: str, do: str = "", **figures: Any) -> Finding:
    """It will do."""
    return Finding("fine", found, do, figures)


def weak(found: str, do: str, **figures: Any) -> Finding:
    """It works, but badly."""
    return Finding("weak", found, do, figures)


def missing(found: str, do: str, **figures: Any) -> Finding:
    """A spoken job cannot do without it."""
    return Finding("missing", found, do, figures)


def skipped(found: str) -> Finding:
    """It was not looked at."""
    return Finding("skipped", found)


def attempt(check: Callable[[], Finding]) -> Finding:
    """The check's finding; its own failing is a finding too, so that the checks after it are still made."""
    try:
        return check()
    except CompanionError as fault:
        found = f", not {fault.found}" if fault.found else ""
        return missing(f"{fault.where}: {fault.must}{found}.", fault.do)
    except Exception as fault:  # each driver, model and disk raises its own kinds
        return missing(f"The check itself failed: {fault!r}.", "Tell whoever looks after the program, with this line")


def to_do(what: str, system: str = sys.platform, **names: Any) -> str:
    """The instruction for `what` (a key of `TO_DO`) on a system as `sys.platform` names it."""
    system = system if system in ("win32", "darwin") else "linux"
    text = TO_DO[what]
    return (text if isinstance(text, str) else text[system]).format(python=f'"{sys.executable}"', **names)


TO_DO: dict[str, str | dict[str, str]] = {
    "python": {
        "linux": "apt-get install python3 python3-venv, and make the virtual environment anew with it",
        "win32": "Install Python 3.10 to 3.13, 64 bit, and make the virtual environment anew: py -3.12 -m venv .venv",
        "darwin": "Install Python 3.10 to 3.13, and make the virtual environment anew: python3.12 -m venv .venv"},
    "program": "In the program's folder: {python} -m pip install .",
    "packages": "{python} -m pip install --upgrade {packages}",
    "portaudio": {
        "linux": "apt-get install libportaudio2 (or the package portaudio of your system)",
        "win32": "{python} -m pip install --force-reinstall sounddevice",
        "darwin": "{python} -m pip install --force-reinstall sounddevice"},
    "microphone": {
        "linux": "Connect one and choose it: pactl list short sources, then pactl set-default-source NAME. Without a "
                 "sound server: apt-get install pulseaudio libasound2-plugins, then pulseaudio --start",
        "win32": "Connect one; choose it in Settings, System, Sound, Input; and let desktop apps use it in Settings, "
                 "Privacy, Microphone",
        "darwin": "Connect one; choose it in System Settings, Sound, Input; and let the terminal use it in System "
                  "Settings, Privacy & Security, Microphone"},
    "muted": {
        "linux": "Look for a switch on the headset; then: pactl set-source-mute @DEFAULT_SOURCE@ 0. If it stays "
                 "silent, it is the wrong one: pactl list short sources, then pactl set-default-source NAME",
        "win32": "Look for a switch on the headset; then Settings, System, Sound, Input: the right one, turned up",
        "darwin": "Look for a switch on the headset; then System Settings, Sound, Input: the right one, turned up"},
    "quieter microphone": {
        "linux": "pactl set-source-volume @DEFAULT_SOURCE@ 70%",
        "win32": "Settings, System, Sound, Input: turn the microphone's volume down",
        "darwin": "System Settings, Sound, Input: turn the input volume down"},
    "loudspeaker": {
        "linux": "Connect one and choose it: pactl list short sinks, then pactl set-default-sink NAME. Without a sound "
                 "server: apt-get install pulseaudio libasound2-plugins, then pulseaudio --start",
        "win32": "Connect one and choose it in Settings, System, Sound, Output",
        "darwin": "Connect one and choose it in System Settings, Sound, Output"},
    "heard nothing": {
        "linux": "If you heard nothing: pactl set-sink-mute @DEFAULT_SINK@ 0; pactl set-sink-volume @DEFAULT_SINK@ 80%",
        "win32": "If you heard nothing: Settings, System, Sound, Output: choose the right one, and turn it up",
        "darwin": "If you heard nothing: System Settings, Sound, Output: choose the right one, and turn it up"},
    "echo": "Use a headset, or move microphone and loudspeaker apart and turn the loudspeaker down",
    "canceller": "{python} -m pip install --force-reinstall pywebrtc-audio. Until then use a headset",
    "room": "Use a headset with its microphone near the mouth; companion ready says more where it hears you",
    "contacts": "If somebody should be: {python} -m pip install apprise, and one address a line, as its documentation lists "
                "them, in {path}",
    "voice": "{python} -m pip install --force-reinstall hibari-tts",
    "slow": "End other programs, and look again: the companion needs two processor cores to itself",
    "ear": '{python} -m pip install --force-reinstall "moonshine-voice==0.0.73"',
    "vosk words": "Take another model, as models/README.md says, or listen with --ear embedded",
    "space": "Free some space, or let COMPANION_HOME name a folder on another disk",
    "home": {
        "linux": "Let COMPANION_HOME name a folder of your own: export COMPANION_HOME=FOLDER",
        "win32": "Let COMPANION_HOME name a folder of your own: setx COMPANION_HOME FOLDER, and open a new window",
        "darwin": "Let COMPANION_HOME name a folder of your own: export COMPANION_HOME=FOLDER"},
    "clock": {
        "linux": "timedatectl set-ntp true, or without a network: timedatectl set-time 'YYYY-MM-DD HH:MM:SS'",
        "win32": "Settings, Time & language, Date & time: Sync now, or set it by hand",
        "darwin": "System Settings, General, Date & Time"},
}
"""What to do, by the thing that is missing: one text for every system, or one for each. NAME and FOLDER are yours."""
