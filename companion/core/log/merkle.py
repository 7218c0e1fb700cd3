"""A Merkle tree as in RFC 9162, section 2.1, with SHA-256: one hash stands for a list that only grows. Pure.

Whoever has the hash of the list, its head, is shown by a few hashes that an entry stands in it (inclusion), and that a later
list begins with all of an earlier one (consistency). Entries are given as their leaf hashes.
"""
from __future__ import annotations

from hashlib import sha256
from typing import Iterable, Optional, Sequence

EMPTY = sha256(b"").digest()
"""The head of an empty list."""


def leaf_hash(entry: bytes) -> bytes:
    """The leaf hash of an entry (2.1.1)."""
    return sha256(b"\x00" + entry).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


class Tree:
    """The tree over a list; what is worked out is kept, so that many paths cost little more than one."""

    def __init__(self, leaves: Iterable[bytes]) -> None:
        self.leaves = tuple(leaves)
        self._known: dict[tuple[int, int], bytes] = {}

    def root(self, size: Optional[int] = None) -> bytes:
        """The head of the first `size` entries; of all by default."""
        size = self._within(size)
        return self._hash(0, size) if size else EMPTY

    def inclusion(self, index: int, size: Optional[int] = None) -> tuple[bytes, ...]:
        """The path from entry `index` (from 0) to the head of the first `size` entries (2.1.3.1)."""
        size = self._within(size)
        if not 0 <= index < size:
            raise IndexError(index)
        path, low, high = [], 0, size
        while high - low > 1:
            middle = low + _split(high - low)
            if index < middle:
                path.append(self._hash(middle, high))
                high = middle
            else:
                path.append(self._hash(low, middle))
                low = middle
        return tuple(reversed(path))

    def consistency(self, first: int, second: Optional[int] = None) -> tuple[bytes, ...]:
        """The path that shows that the first `second` entries begin with the first `first` (2.1.4.1)."""
        second = self._within(second)
        if not 0 <= first <= second:
            raise IndexError(first)
        if first in (0, second):
            return ()
        path, low, high, whole = [], 0, second, True
        while first != high:
            middle = low + _split(high - low)
            if first <= middle:
                path.append(self._hash(middle, high))
                high = middle
            else:
                path.append(self._hash(low, middle))
                low, whole = middle, False
        return tuple(reversed(path if whole else [*path, self._hash(low, high)]))

    def _within(self, size: Optional[int]) -> int:
        size = len(self.leaves) if size is None else size
        if not 0 <= size <= len(self.leaves):
            raise IndexError(size)
        return size

    def _hash(self, low: int, high: int) -> bytes:
        """Of the entries from `low` to before `high` (2.1.1)."""
        if high - low == 1:
            return self.leaves[low]
        found = self._known.get((low, high))
        if found is None:
            middle = low + _split(high - low)
            found = self._known[low, high] = _node(self._hash(low, middle), self._hash(middle, high))
        return found


def _split(size: int) -> int:
    """The largest power of two below `size`."""
    return 1 << (size - 1).bit_length() - 1


def included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether `path` leads from the leaf hash of entry `index` to the head `root` of a list of `size` (2.1.3.2)."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for other in path:
        if not last:
            return False
        if place & 1 or place == last:
            found = _node(other, found)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            found = _node(found, other)
        place, last = place >> 1, last >> 1
    return not last and found == root


def consistent(first: int, second: int, path: Sequence[bytes], first_root: bytes, second_root: bytes) -> bool:
    """Whether `path` shows that the list of `second` entries with head `second_root` begins with the list of `first`
    entries whose head is `first_root` (2.1.4.2). Every list begins with the empty one."""
    if not 0 <= first <= second:
        return False
    if first == second:
        return not path and first_root == second_root
    if not first:
        return not path and first_root == EMPTY
    if not first & (first - 1):
        path = (first_root, *path)
    return bool(path) and _climbed(first - 1, second - 1, path) == (first_root, second_root)


def _climbed(place: int, last: int, path: Sequence[bytes]) -> Optional[tuple[bytes, bytes]]:
    """The two heads that a path of consistency leads to; None where it is too long or too short."""
    while place & 1:
        place, last = place >> 1, last >> 1
    older = newer = path[0]
    for other in path[1:]:
        if not last:
            return None
        if place & 1 or place == last:
            older, newer = _node(other, older), _node(other, newer)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            newer = _node(newer, other)
        place, last = place >> 1, last >> 1
    return None if last else (older, newer)
