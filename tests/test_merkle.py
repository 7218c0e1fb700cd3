"""Merkle trees as in RFC 9162: published vectors, and properties against the RFC's own definitions, written out again."""
from __future__ import annotations

from hashlib import sha256

import pytest
from hypothesis import given, settings, strategies as st

from companion.core.log.merkle import EMPTY, Tree, consistent, included, leaf_hash

LEAVES = [bytes.fromhex(one) for one in (
    "", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"]
TREE = Tree(map(leaf_hash, LEAVES))
_A, _B, _C, _D = ("96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
                  "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
                  "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
                  "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b")
_E = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"


def test_the_published_heads():
    """The public reference set of certificate transparency: eight entries, and the head after each."""
    assert [TREE.root(size).hex() for size in range(9)] == ROOTS and EMPTY.hex() == ROOTS[0]


@pytest.mark.parametrize("index, size, path", [
    (0, 1, []), (0, 8, [_A, _B, _C]), (5, 8, [_D, _E, ROOTS[4]]), (2, 3, [ROOTS[2]]), (1, 5, [ROOTS[1], _B, _D])])
def test_the_published_inclusion_paths(index, size, path):
    """The same set's paths (from memory; they lead to the published heads)."""
    assert [one.hex() for one in TREE.inclusion(index, size)] == path
    assert included(leaf_hash(LEAVES[index]), index, size, [bytes.fromhex(one) for one in path], bytes.fromhex(ROOTS[size]))


@pytest.mark.parametrize("first, second, path", [
    (6, 8, ["0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a", _E, ROOTS[4]]),  # published
    (1, 1, []), (1, 8, [_A, _B, _C]), (2, 5, [_B, _D])])  # from memory
def test_the_published_consistency_paths(first, second, path):
    """From six entries to eight as published; the others from memory, and they lead to the published heads."""
    assert [one.hex() for one in TREE.consistency(first, second)] == path
    heads = bytes.fromhex(ROOTS[first]), bytes.fromhex(ROOTS[second])
    assert consistent(first, second, [bytes.fromhex(one) for one in path], *heads)


# -- against the definitions of RFC 9162 -------------------------------------------------------------------------------

def split(entries):
    """k, the largest power of two smaller than n."""
    k = 1
    while k * 2 < len(entries):
        k *= 2
    return k


def mth(entries):
    """MTH(D_n), section 2.1.1."""
    if not entries:
        return sha256().digest()
    if len(entries) == 1:
        return sha256(b"\x00" + entries[0]).digest()
    k = split(entries)
    return sha256(b"\x01" + mth(entries[:k]) + mth(entries[k:])).digest()


def path_of(m, entries):
    """PATH(m, D_n), section 2.1.3.1."""
    if len(entries) == 1:
        return []
    k = split(entries)
    return [*path_of(m, entries[:k]), mth(entries[k:])] if m < k else [*path_of(m - k, entries[k:]), mth(entries[:k])]


def subproof(m, entries, b):
    """SUBPROOF(m, D_n, b), section 2.1.4.1."""
    if m == len(entries):
        return [] if b else [mth(entries)]
    k = split(entries)
    if m <= k:
        return [*subproof(m, entries[:k], b), mth(entries[k:])]
    return [*subproof(m - k, entries[k:], False), mth(entries[:k])]


def test_every_head_and_path_is_the_definition_s():
    """All sizes to 40, every entry and every earlier size: the same hashes as the RFC's recursion, and they check."""
    entries = [bytes([n]) * (n % 5) for n in range(40)]
    tree = Tree(map(leaf_hash, entries))
    for n in range(41):
        root = tree.root(n)
        assert root == mth(entries[:n])
        for m in range(n):
            path = tree.inclusion(m, n)
            assert list(path) == path_of(m, entries[:n]) and included(leaf_hash(entries[m]), m, n, path, root)
        for m in range(1, n + 1):
            path = tree.consistency(m, n)
            assert list(path) == subproof(m, entries[:n], True) and consistent(m, n, path, tree.root(m), root)
        assert consistent(0, n, (), EMPTY, root)


@st.composite
def lists(draw):
    """Two lists that differ, and a place in each."""
    entries = draw(st.lists(st.binary(max_size=3), min_size=1, max_size=70, unique=True))
    return Tree(map(leaf_hash, entries)), draw(st.integers(0, len(entries) - 1)), draw(st.integers(1, len(entries)))


@given(lists(), st.data())
@settings(max_examples=150, deadline=None)
def test_nothing_else_passes_for_an_entry(made, data):
    """Another entry, another place, another size, another head, a path that is longer, shorter or changed: refused."""
    tree, index, _ = made
    size, leaf, path, root = len(tree.leaves), tree.leaves[index], tree.inclusion(index), tree.root()
    assert included(leaf, index, size, path, root)
    other = data.draw(st.binary(min_size=32, max_size=32))
    assert not included(other, index, size, path, root) and not included(leaf, index, size, path, other)
    assert not included(leaf, index, size, (*path, other), root) and not included(leaf, index, size, path[:-1], root) or not path
    for wrong in {data.draw(st.integers(-2, size + 2)), index ^ 1, size} - {index}:
        assert not included(leaf, wrong, size, path, root)
    if path:
        place = data.draw(st.integers(0, len(path) - 1))
        changed = (*path[:place], other, *path[place + 1:])
        assert not included(leaf, index, size, changed, root)


@given(lists(), st.data())
@settings(max_examples=150, deadline=None)
def test_nothing_else_passes_for_an_earlier_list(made, data):
    """A list rewritten, shortened or with an entry taken out is not consistent with the head that was given before."""
    tree, index, first = made
    size, root, before = len(tree.leaves), tree.root(), tree.root(first)
    path = tree.consistency(first)
    assert consistent(first, size, path, before, root)
    other = data.draw(st.binary(min_size=32, max_size=32))
    assert not consistent(first, size, path, other, root) and not consistent(first, size, path, before, other)
    assert not consistent(first, size, (*path, other), before, root) and (
        not path or not consistent(first, size, path[:-1], before, root))
    before_it, after_it = tree.leaves[:index], tree.leaves[index + 1:]
    for changed in ([*before_it, other, *after_it], [*before_it, *after_it, other]):
        rewritten = Tree(changed)
        held = consistent(first, size, rewritten.consistency(first), before, rewritten.root())
        assert held == (index >= first), "only what came after the head may differ"


@pytest.mark.parametrize("act", [
    lambda: TREE.root(9), lambda: TREE.root(-1), lambda: TREE.inclusion(8), lambda: TREE.inclusion(-1),
    lambda: TREE.inclusion(3, 3), lambda: TREE.consistency(9), lambda: TREE.consistency(5, 4)])
def test_a_place_outside_the_list_is_an_error(act):
    """No path is made for what is not there."""
    with pytest.raises(IndexError):
        act()
