"""One family of errors, three kinds, each written for the person who meets it.

Every message says where, what must hold, what was found and, where it helps, what to do.
"""
from __future__ import annotations


class CompanionError(Exception):
    """Root of every error the companion raises on purpose."""

    exit_code = 2

    def __init__(self, where: str, must: str, found: str = "", do: str = "") -> None:
        self.where, self.must, self.found, self.do = where, must, found, do
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """`where: must, not found. do`"""
        text = f"{self.where}: {self.must}" if self.where else self.must
        if self.found:
            text += f", not {self.found}"
        if self.do:
            text += f". {self.do}"
        return text


class BadInput(CompanionError):
    """Something given from outside cannot be used: a card, an option, a typed value."""

    exit_code = 2


class BadEvidence(CompanionError):
    """A log, a seal or a signature does not hold."""

    exit_code = 1


class BrokenMachine(CompanionError):
    """A part of the machine fails: the disk, the sound, a model file."""

    exit_code = 1
