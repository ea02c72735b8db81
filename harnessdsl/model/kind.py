"""Part kinds: terminals, actuators and the electrical primitives between them."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field

from harnessdsl.model.failures import Likelihood
from harnessdsl.quantity import Quantity
from harnessdsl.text import NOWHERE, Span


class Side(enum.StrEnum):
    """Where a terminal is drawn: towards the supply, towards earth, or beside."""

    UPPER = "upper"
    LOWER = "lower"
    SIDE = "side"


@dataclass(frozen=True, slots=True)
class Terminal:
    """A terminal of a kind, its drawing side, other names and (for module pins) its role."""

    name: str
    side: Side
    label: str = ""
    role: str = ""
    """'' or a module pin role: supply, earth, low-side, high-side, input, signal."""
    aliases: tuple[str, ...] = ()
    case: bool = False
    """The metal case: joined to the conductor that the part is `on`."""


@dataclass(frozen=True, slots=True)
class Clause:
    """One condition of a contact.

    `actuator` is an actuator's name with `positions` that close it; or one of the reserved
    words with `positions` holding its state:

    - 'coil' : ('energised',) or ('released',), `of` naming the coil ('' = the only one)
    - 'heat' : ('hot',) or ('cold',)
    - 'pressure' : ('pressure',) or ('no-pressure',)
    - 'motion' : ('running',) or ('stopped',)
    - 'trip' : ('intact',) or ('tripped',)
    """

    actuator: str
    positions: tuple[str, ...]
    of: str = ""


RESERVED_ACTUATORS = ("coil", "heat", "pressure", "motion", "trip")


@dataclass(frozen=True, slots=True)
class Primitive:
    """A two-terminal electrical element between terminals `a` and `b` of a part.

    `type`: contact, coil, resistor, filament, heater, motor, solenoid, load, led, diode,
    capacitor, speaker, inductor, winding, fuse, breaker, link, source, alternator,
    thermistor, joint. Module pins become: supply pin -> load `supply` to the earth pin;
    low-side -> contact to the earth pin; high-side -> contact from the supply pin (each with an
    actuator named after the pin, positions off on); input -> resistor `pull-up`/`pull-down`;
    signal -> resistor of high value.
    """

    type: str
    a: str
    b: str
    name: str = ""
    figures: Mapping[tuple[str, str], Quantity] = field(default_factory=dict)
    """Figures by (keyword, dimension): ('', 'current'): 18 A; ('stalls', 'current'): 75 A."""
    flags: tuple[str, ...] = ()
    clauses: tuple[Clause, ...] = ()
    """All must hold for the contact to be closed."""
    table: tuple[tuple[float, float], ...] = ()
    """Thermistor: (temperature_c, resistance_ohm) pairs, ascending."""
    span: Span = NOWHERE

    def figure(self, dimension: str, keyword: str = "") -> float | None:
        """Return the figure in base units, or None when the kind gives none."""
        found = self.figures.get((keyword, dimension))
        return None if found is None else found.value


LOAD_TYPES = frozenset(
    {"filament", "heater", "motor", "solenoid", "load", "led", "speaker", "winding"}
)
"""Primitives that do the circuit's work. A coil is a load too, but is named on its own."""
PROTECTION_TYPES = frozenset({"fuse", "breaker", "link"})
SOURCE_TYPES = frozenset({"source", "alternator"})


@dataclass(frozen=True, slots=True)
class Actuator:
    """A thing that a person (or a module) moves: positions, the one at rest, momentary ones."""

    name: str
    positions: tuple[str, ...]
    rest: str
    momentary: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kind:
    """What a part is: built from facts of the language, never from code."""

    name: str
    label: str = ""
    letter: str = ""
    family: str = "load"
    terminals: Mapping[str, Terminal] = field(default_factory=dict)
    """By name, in drawing order."""
    primitives: tuple[Primitive, ...] = ()
    actuators: Mapping[str, Actuator] = field(default_factory=dict)
    fits: tuple[str, ...] = ()
    any_terminals: bool = False
    figures: Mapping[tuple[str, str], Quantity] = field(default_factory=dict)
    """Figures of the part as a whole that belong to no primitive, e.g. a battery's Ah."""
    safety: str = ""
    spec: str = ""
    source_note: str = ""
    likelihoods: tuple[Likelihood, ...] = ()
    """Ways to fail that are likelier than usual for it."""
    span: Span = NOWHERE

    def terminal(self, name: str) -> Terminal | None:
        """Return the terminal called `name`, by its name or another of its names."""
        found = self.terminals.get(name)
        if found is not None:
            return found
        for terminal in self.terminals.values():
            if name in terminal.aliases:
                return terminal
        return None
