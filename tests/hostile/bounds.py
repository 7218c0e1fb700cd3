"""What the program may do while it works on hostile input: open files where it belongs, run nothing, say nothing that steers."""
from __future__ import annotations

import os
import sys
import sysconfig
import tempfile
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Iterator, Optional

from hostile import Wrong

PROJECT = Path(__file__).resolve().parent.parent.parent
_OWN = tuple(str(path) + os.sep for path in {
    PROJECT, Path(sys.prefix).resolve(), Path(sys.base_prefix).resolve(), *map(Path, sysconfig.get_paths().values())})
_SCRATCH = os.path.join(os.path.realpath(tempfile.gettempdir()), "companion-")
"""Our own temporary folders, under names that nobody outside chooses."""
_DEVICES = (_SCRATCH, "/dev/null", "/dev/urandom", "/proc/sys/kernel/random/boot_id", "/proc/self/", "/proc/cpuinfo",
            "/proc/meminfo", "/sys/devices/system/cpu", "/etc/os-release", "/usr/lib/os-release")
_RUNS = ("os.system", "os.exec", "os.posix_spawn", "os.spawn", "subprocess.Popen", "pty.spawn", "socket.connect",
         "socket.bind", "ctypes.dlopen", "webbrowser.open", "pickle.find_class")
"""Audit events that no hostile input may ever cause."""
_TOUCHES = ("os.remove", "os.rename", "os.link", "os.symlink", "os.truncate", "os.chmod", "os.rmdir", "os.mkdir", "shutil.rmtree")
"""What is done to a file by its name."""
_watched: Optional[list[str]] = None
_folder = ""


def _heard(event: str, args: tuple[Any, ...]) -> None:
    if _watched is None:
        return
    if event == "open":
        _opened(args[0])
    elif event in _TOUCHES:
        for path in args[:2]:
            _opened(path)
    elif event in _RUNS:
        _watched.append(f"{event} {args!r}"[:300])
    elif event in ("compile", "exec", "code.__new__") and not _from_library():
        _watched.append(f"{event} {args!r}"[:300])


def _from_library() -> bool:
    """Whether Python's own library or an installed one compiles: a module that is imported late, the methods of a dataclass."""
    return not sys._getframe(2).f_code.co_filename.startswith(str(PROJECT))


def _opened(path: Any) -> None:
    if not isinstance(path, (str, bytes, os.PathLike)):
        return
    whole = os.path.realpath(os.fsdecode(path))
    if not f"{whole}{os.sep}".startswith((_folder, *_OWN, *_DEVICES)):
        _watched.append(f"open {whole!r}")


sys.addaudithook(_heard)


@contextmanager
def within(folder: Path) -> Iterator[None]:
    """Raises Wrong where anything is opened outside `folder` and the program's own files, or anything is run."""
    global _watched, _folder
    _folder, _watched = os.path.realpath(folder) + os.sep, []
    try:
        yield
        did = _watched
    finally:
        _watched = None
    if did:
        raise Wrong(f"it must stay in its folder and run nothing, but: {did[:3]}")


def fit_for_terminal(text: str, what: str = "what is printed") -> None:
    """Raises Wrong where `text` could steer a terminal: anything that is not printable, save for line ends."""
    strange = next((c for c in text if c != "\n" and not c.isprintable()), "")
    if strange:
        at = text.index(strange)
        raise Wrong(f"{what} must be fit for a terminal, but holds U+{ord(strange):04X}: {text[max(0, at - 60):at + 20]!r}")


_ELEMENTS = set("""
    html head meta title style link body main header footer section details summary article nav aside
    h1 h2 h3 h4 p div span strong em small a ul ol li dl dt dd br hr time abbr code pre b i mark kbd
    form label input select option optgroup button textarea fieldset legend
    table caption thead tbody tfoot tr th td colgroup col figure figcaption audio
    svg g path rect line circle text tspan desc polyline polygon pattern defs clippath""".split())
"""All that our pages are made of."""
_LINKS = ("#", "./", "/", "data:audio/", "?")


class _Elements(HTMLParser):
    """Finds elements, attributes and links that no page of ours has."""

    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Optional[str]]]) -> None:
        if tag not in _ELEMENTS:
            self.wrong.append(f"<{tag}>")
        for name, value in attrs:
            if name.startswith("on") or name in ("srcdoc", "style", "formaction", "background", "ping"):
                self.wrong.append(f"{name}={value!r}")
            if name in ("href", "src", "action") and not (value or "").startswith(_LINKS):
                self.wrong.append(f"{name}={value!r}")

    def handle_comment(self, data: str) -> None:
        self.wrong.append(f"<!--{data[:40]}")

    def handle_pi(self, data: str) -> None:
        self.wrong.append(f"<?{data[:40]}")


def no_markup(page: str) -> None:
    """Raises Wrong where a page has an element, attribute or link that is none of ours: it came from the input."""
    found = _Elements()
    found.feed(page)
    found.close()
    if found.wrong:
        raise Wrong(f"no markup may come from outside, but: {found.wrong[:3]}")
