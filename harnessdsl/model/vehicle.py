"""The model of one vehicle: frozen facts, no input or output.

Node keys name electrical points: `K2.30` for a part's terminal, `X5.a.1` for a cavity on one half
of a connector, `J3` for a splice, `E2` for an earth point, `@body` for a conductor (metal).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from harnessdsl.model.evidence import UNSTATED, Evidence
from harnessdsl.model.failures import Likelihood
from harnessdsl.model.kind import Kind
from harnessdsl.quantity import Quantity
from harnessdsl.text import NOWHERE, Span


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture file and the marked spot as shares of width and height from the top left."""

    path: str
    mark: tuple[float, float] | None = None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class ReachStep:
    """One step to get at a place, and the minutes it takes."""

    text: str
    minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Slot:
    """One slot of a box."""

    name: str
    type: str = ""
    label: str = ""
    max_current_a: float | None = None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Place:
    """A place in the vehicle; a place with slots is a box. Millimetres: x back from the front
    bumper, y to the right, z up from the ground."""

    name: str
    label: str = ""
    position_mm: tuple[float, float, float] | None = None
    zone: str = ""
    inside: str = ""
    """The place that this one is in, '' for the vehicle itself."""
    slots: Mapping[str, Slot] = field(default_factory=dict)
    grid_columns: int | None = None
    reach: tuple[ReachStep, ...] = ()
    photo: Photo | None = None
    exposure: tuple[str, ...] = ()
    """Of: wet, hot, moving."""
    cautions: tuple[str, ...] = ()
    note: str = ""
    evidence: Evidence = UNSTATED
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Half:
    """One mating half of a connector."""

    gender: str = ""
    """male, female or ''."""
    label: str = ""
    ways: int | None = None
    shell: str = ""
    place: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class ConnectorBody:
    """What a connector has besides a part: cavities, two halves, the face's layout."""

    cavities: tuple[str, ...]
    halves: Mapping[str, Half]
    rows: int = 1
    of: str = ""
    """The part it plugs onto, '' for an in-line connector."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing in the vehicle. `kind` is already merged with the part's own figures and block."""

    name: str
    label: str
    kind: Kind
    place: str = ""
    slot: str = ""
    zone: str = ""
    conductor: str = ""
    """The metal it sits on (`on engine`); for earth points never ''."""
    connector: ConnectorBody | None = None
    figures: Mapping[tuple[str, str], Quantity] = field(default_factory=dict)
    """Every figure written on the part itself."""
    flags: frozenset[str] = frozenset()
    """Of: always-live, spare, retained."""
    unfused_reason: str = ""
    fitted: int = 0
    """The year in which it was put in, where it is newer than the vehicle; 0 when not told."""
    note: str = ""
    evidence: Evidence = UNSTATED
    span: Span = NOWHERE
    """The whole fact's first line; `name_span` is the name alone."""
    name_span: Span = NOWHERE
    slot_span: Span = NOWHERE
    place_span: Span = NOWHERE

    @property
    def family(self) -> str:
        return self.kind.family

    def rating_a(self) -> float | None:
        """The rating of a fuse, breaker or link in amperes."""
        for primitive in self.kind.primitives:
            if primitive.type in ("fuse", "breaker", "link"):
                return primitive.figure("current")
        return None


@dataclass(frozen=True, slots=True)
class End:
    """One end of a wire. `half` is 'a' or 'b' on a connector, else ''."""

    part: str
    terminal: str
    half: str = ""
    span: Span = NOWHERE

    @property
    def node(self) -> str:
        if self.half:
            return f"{self.part}.{self.half}.{self.terminal}"
        return f"{self.part}.{self.terminal}" if self.terminal else self.part

    def __str__(self) -> str:
        return f"{self.part}.{self.terminal}" if self.terminal else self.part


@dataclass(frozen=True, slots=True)
class Wire:
    """One piece of wire between two ends."""

    name: str
    a: End
    b: End
    area_mm2: float | None = None
    area_text: str = ""
    """As written: '4 mm2' or '12 AWG'."""
    colour: str = ""
    """IEC 60757 codes joined by '/': base first, tracer after."""
    length_m: float | None = None
    chain: str = ""
    """The name shared by all pieces of one chain; '' for a single wire."""
    chain_length_m: float | None = None
    """The length written for the whole chain, when it was."""
    insulation: str = ""
    temperature_class_c: float | None = None
    material: str = "copper"
    fusible: bool = False
    via: tuple[str, ...] = ()
    note: str = ""
    evidence: Evidence = UNSTATED
    span: Span = NOWHERE
    colour_span: Span = NOWHERE
    area_span: Span = NOWHERE
    length_span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Cable:
    """Wires that are twisted or screened together."""

    name: str
    label: str
    wires: tuple[str, ...]
    twisted: bool = False
    screened: bool = False
    screen_end: End | None = None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Conductor:
    """Metal of the vehicle that carries current back: body, engine, ..."""

    name: str
    label: str = ""
    resistance_ohm: float | None = None
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Run:
    """A bundle of wires through places in order."""

    name: str
    label: str
    places: tuple[str, ...]
    length_m: float | None = None
    wires: tuple[str, ...] = ()
    grommets: tuple[str, ...] = ()
    cover: str = ""
    evidence: Evidence = UNSTATED
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Circuit:
    """Parts that are drawn on one sheet."""

    name: str
    label: str
    parts: tuple[str, ...]
    note: str = ""
    safety: str = ""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Condition:
    """A state of the switches and of the surroundings."""

    name: str
    label: str = ""
    positions: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """(part, actuator) -> position; actuators not named are at rest."""
    temperatures_c: Mapping[str, float] = field(default_factory=dict)
    """By part name, or 'engine', 'ambient'."""
    engine_running: bool = False
    states: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """(part, 'pressure' | 'motion' | 'trip') -> state."""
    moving: bool = False
    """Whether the vehicle is driven, or its doors are moved: what is loose is shaken."""
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A finding that the file accepts, with the reason."""

    code: str
    subject: str
    reason: str
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Claim:
    """What another source says of a thing, kept beside what the file believes."""

    subject: str
    text: str
    evidence: Evidence
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Everything that the files say, resolved; mappings keep the order of the file."""

    name: str = ""
    build: str = ""
    year: str = ""
    nominal_v: float = 12.0
    positive_earth: bool = False
    body: str = ""
    places: Mapping[str, Place] = field(default_factory=dict)
    kinds: Mapping[str, Kind] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    wires: Mapping[str, Wire] = field(default_factory=dict)
    cables: Mapping[str, Cable] = field(default_factory=dict)
    conductors: Mapping[str, Conductor] = field(default_factory=dict)
    runs: Mapping[str, Run] = field(default_factory=dict)
    circuits: Mapping[str, Circuit] = field(default_factory=dict)
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    acceptances: tuple[Acceptance, ...] = ()
    cautions: tuple[str, ...] = ()
    claims: tuple[Claim, ...] = ()
    likelihoods: tuple[Likelihood, ...] = ()
    span: Span = NOWHERE
