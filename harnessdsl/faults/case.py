"""The record of one search: what was complained of, seen, read, tried; no input or output."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.model.failures import Likelihood
from harnessdsl.text import NOWHERE, Span

LOAD_WORDS = ("dead", "dim", "slow", "works", "stays-on", "glows", "off", "intermittent")
"""What can be seen of a load. A slow motor is what a dim lamp is."""
FUSE_WORDS = ("blown", "whole")
RELAY_WORDS = ("clicks", "silent", "buzzes")
LAMP_WORDS = ("bright", "glowing", "dark")
CHANGE_WORDS = ("helped", "no-change")
BATTERY_OFF = "battery-off"
"""Stands for a condition: the battery's earth lead is off and its other end insulated."""
OUT_OF_CIRCUIT = "out-of-circuit"

SURE, USUAL, UNSURE = 0.998, 0.985, 0.85
"""Chance that what is written is right, by how sure the person is (common practice)."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing seen or measured.

    `kind` is load, fuse, relay, volts, lamp, ohms, amps, swap or wiggle. Values in volts, ohms and
    amperes; `inf` ohms for an open circuit.
    """

    kind: str
    subject: str
    """Part (load, fuse, relay, swap), connector or run (wiggle), or node of the red lead."""
    says: str = ""
    value: float = 0.0
    against: str = ""
    """Node of the black lead ('' for the body), or the relay that was swapped in."""
    condition: str = ""
    alone: bool = False
    """Measured out of circuit: the part was taken out and nothing else hangs on it."""
    unplugged: tuple[str, ...] = ()
    pulled: tuple[str, ...] = ()
    sure: float = USUAL
    date: str = ""
    note: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Refusal:
    """A place, part or plug that the person can't get at."""

    subject: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Replaced:
    """A part or wire that was changed for a sound one already."""

    part: str
    date: str = ""
    sure: float = USUAL
    note: str = ""


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is wrong in the driver's words; `when` is '', 'hot' or 'moving'."""

    text: str
    when: str = ""
    date: str = ""
    sure: float = USUAL


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that is known of one search."""

    title: str = ""
    date: str = ""
    by: str = ""
    vehicle: str = ""
    """Path of the vehicle's file, as written."""
    complaints: tuple[Complaint, ...] = ()
    observations: tuple[Observation, ...] = ()
    replaced: tuple[Replaced, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    opened: tuple[str, ...] = ()
    """Places that are open already: they cost no more than a reach."""
    likelihoods: tuple[Likelihood, ...] = ()
    """As the case says, besides the vehicle's own."""
    found: tuple[str, ...] = ()
    """Ids of the faults that were proven at the end, or what it was in words."""
    notes: tuple[str, ...] = ()
