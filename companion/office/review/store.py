"""Where logs and index lie: a folder of this machine, or any address that fsspec can read, as one interface."""
from __future__ import annotations

import os
import posixpath
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, BinaryIO

from companion.errors import BadInput
from companion.office.place import open_plain


@dataclass(frozen=True)
class Store:
    """A folder at an address: a path, or "memory://…", "s3://…" and the like where the package for it is installed.

    Kept small and plain, since workers on other machines get one each. Raises BadInput for an address of no known kind."""

    address: str

    @cached_property
    def _at(self) -> tuple[Any, str]:
        import fsspec  # late: most commands need none of it
        try:
            return fsspec.core.url_to_fs(self.address, use_listings_cache=False)
        except (ValueError, ImportError) as error:
            raise BadInput(self.address, f"must be a folder, or an address that can be read: {error}") from None

    def __getstate__(self) -> dict[str, str]:
        return {"address": self.address}

    def __setstate__(self, state: dict[str, str]) -> None:
        object.__setattr__(self, "address", state["address"])

    def open(self, name: str) -> BinaryIO:
        """See `Place`. Raises OSError."""
        return open_plain(self._path(name)) if self.local else self._at[0].open(self._path(name), "rb")

    def has(self, name: str) -> bool:
        """See `Place`."""
        return self._at[0].isfile(self._path(name))

    def is_folder(self) -> bool:
        """Whether there is such a folder."""
        return self._at[0].isdir(self._at[1])

    def within(self, name: str) -> Store:
        """The folder of that name in this one."""
        return Store(posixpath.join(self.address, name) if "://" in self.address else str(Path(self.address) / name))

    def listing(self) -> dict[str, str]:
        """Every file of the folder, not of folders in it, with what changes when the file does. Raises OSError."""
        found = self._at[0].ls(self._at[1], detail=True, refresh=True) if self.is_folder() else []
        mark = _mark_here if self.local else _mark
        files = (one for one in found if one["type"] != "directory")
        return {_named(posixpath.basename(one["name"].rstrip("/"))): mark(one) for one in files}

    def put(self, file: Path, name: str) -> None:
        """Copy a file of this machine to `name`; whoever reads sees the old one or the new one, whole. On this machine only
        its owner may read it. Raises OSError, which names where it could not be written."""
        system, path = self._at[0], self._path(name)
        try:
            system.makedirs(posixpath.dirname(path), exist_ok=True)
            system.put_file(str(file), path + ".new")
            if self.local:
                os.chmod(path + ".new", 0o600)
            system.mv(path + ".new", path)
        except OSError as error:
            raise OSError(error.errno, error.strerror or str(error), path) from error

    def fetch(self, name: str, file: Path) -> None:
        """Copy `name` to a file of this machine. Raises OSError."""
        self._at[0].get_file(self._path(name), str(file))

    def remove(self, name: str) -> None:
        """Remove a file. Raises OSError."""
        self._at[0].rm_file(self._path(name))

    @cached_property
    def local(self) -> bool:
        """Whether it is a folder of this machine, which DuckDB reads in place."""
        protocol = self._at[0].protocol
        return "file" in ((protocol,) if isinstance(protocol, str) else protocol)

    def path(self, name: str) -> str:
        """The path of a file of a local folder."""
        return self._path(name)

    def _path(self, name: str) -> str:
        return posixpath.join(self._at[1], name)


def _named(name: str) -> str:
    """A name that can be written down: one that is no UTF-8 stands as its bytes, and cannot be opened by that."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def _mark(one: dict[str, Any]) -> str:
    """What a listing tells of a file's state: its size, and its time or tag where the place gives one."""
    when = next((one[key] for key in ("mtime", "ETag", "etag", "md5Hash", "LastModified", "last_modified", "created")
                 if one.get(key)), "")
    return f"{one.get('size')}:{when}"


def _mark_here(one: dict[str, Any]) -> str:
    """As `_mark`, of what a link leads to; with the time that nobody can set back, so that no change can hide."""
    try:
        found = os.stat(one["name"])
    except OSError:  # gone, or a link that leads nowhere
        return _mark(one)
    return f"{found.st_size}:{found.st_mtime_ns}:{found.st_ctime_ns}"


def logs_in(listing: dict[str, str]) -> dict[str, str]:
    """The job logs of a listing, in order, each with its fingerprint: it changes with the log, and with what is beside it."""
    beside: dict[str, list[str]] = {}
    for name in sorted(listing):
        beside.setdefault(_stem(name), []).append(f"{name[len(_stem(name)):]} {listing[name]}")
    return {name: "|".join(beside[_stem(name)]) for name in sorted(listing) if name.endswith(".jsonl")}


def _stem(name: str) -> str:
    """What a log shares with its sidecar, memos and clips: "van-12" of "van-12.memo-1.flac"."""
    return re.sub(r"(\.(memo|clip)-[0-9]+)?\.[a-z]+$", "", name)
