"""A PulseAudio of the tests' own: nothing of it reaches the machine's loudspeakers, no other program's sound gets in.

When its sinks are unloaded the streams on them move to a dummy output, as where a machine's only device is pulled out.
"""
from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

_PATIENCE = 10.0
_ORPHANED = 60
"""Seconds without any program after which it ends itself, should the tests have been killed."""


class SoundServer:
    """Runs from its making to `close`. `env` is what programs need to find it."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="companion-sound-"))  # short: a socket's path holds 107 characters
        self._socket = socket = self._folder / "native"
        self.env = {"PULSE_SERVER": f"unix:{socket}", "PULSE_RUNTIME_PATH": str(self._folder),
                    "PULSE_STATE_PATH": str(self._folder)}
        self._start()

    def _start(self) -> None:
        self._process = subprocess.Popen(
            ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", f"--exit-idle-time={_ORPHANED}", "-L",
             f"module-native-protocol-unix socket={self._socket} auth-anonymous=1", "-L", "module-always-sink"],
            env=os.environ | self.env, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        limit = time.monotonic() + _PATIENCE
        while self._asked("info").returncode:
            if time.monotonic() > limit:
                self.close()
                raise AssertionError("PulseAudio does not answer")
        never_late(self._process.pid)  # not sooner: it sets its own when it starts

    def restart(self) -> None:
        """It is killed, as by a crash, and started again where it was; its modules are gone."""
        self._process.kill()
        self._process.wait()
        self._socket.unlink(missing_ok=True)
        self._start()

    def close(self) -> None:
        """Ends it."""
        self._process.terminate()
        self._process.wait()
        shutil.rmtree(self._folder)

    def load(self, module: str, **options: object) -> str:
        """Loads a module; its number."""
        return self._must("load-module", module, *(f"{name}={value}" for name, value in options.items()))

    def unload(self, module: str) -> None:
        """A module is gone at once, with its sink."""
        self._must("unload-module", module)

    def _must(self, *arguments: str) -> str:
        done = self._asked(*arguments)
        if done.returncode:
            raise AssertionError(f"pactl {' '.join(arguments)}: {done.stderr}")
        return done.stdout.strip()

    def _asked(self, *arguments: str) -> subprocess.CompletedProcess:
        return subprocess.run(["pactl", *arguments], env=os.environ | self.env, capture_output=True, text=True,
                              check=False)


def never_late(task: int) -> None:
    """Real-time scheduling where the system allows it: what stands for the outside waits for no busy processor."""
    with contextlib.suppress(PermissionError):
        os.sched_setscheduler(task, os.SCHED_FIFO, os.sched_param(3))
