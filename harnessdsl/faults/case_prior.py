"""What a case says of how likely its causes are, before anything was measured."""

from __future__ import annotations

from harnessdsl.faults.case import Case
from harnessdsl.faults.fault import Fault
from harnessdsl.faults.usual import told_factor
from harnessdsl.model.vehicle import Vehicle

NEW_BAD = 0.01
"""Chance that a sound part put in is bad too (common practice); how sure the person is that it was
put in, and sound, comes on top."""


def case_factor(vehicle: Vehicle, fault: Fault, case: Case) -> float:
    """Return how many times likelier a fault is by what was changed already and by the case's
    `likelihood` lines."""
    factor = told_factor(vehicle, fault, case.likelihoods)
    for one in case.replaced:
        if one.part == fault.subject:
            factor *= 1 - one.sure + NEW_BAD
    return factor
