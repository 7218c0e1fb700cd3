"""Everything that can go wrong in made jobs, in the order in which the jobs take their turns.

A wait that protects a person cannot be cut short (`protective-wait-cut-short`): the core refuses it."""
from __future__ import annotations

from companion.office.fleet.plants import course, damage, evidence, papers, values
from companion.office.fleet.plants.plant import Plant

__all__ = ["PLANTS", "Plant"]

PLANTS: tuple[Plant, ...] = (*course.PLANTS, *values.PLANTS, *evidence.PLANTS, *damage.PLANTS, *papers.PLANTS)
