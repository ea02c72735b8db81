"""Electrical primitives with numbers: what the solver knows of the world.

An element joins two nodes by a law, a relation between the voltage u = V(a) - V(b) across it and
the current i from a to b through it. Every law is odd or monotone rising in u, so that a network
with its contacts in a given state has one solution. Volts, amperes, ohms throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from harnessdsl.electric.fuse_curves import FuseCurve

THERMAL_VOLTAGE_V = 1.380649e-23 * 300.15 / 1.602176634e-19
"""k*T/q at 27 C, the junction temperature that all diodes are computed at."""

MIN_OHM = 1e-6
"""Nothing made of metal has less; keeps every conductance finite."""

METER_OHM = 10e6
"""Input resistance of a digital voltmeter (usual data-sheet figure)."""

FILAMENT_EXPONENT = 0.55
"""I ~ V^0.55 (Standard Handbook for Electrical Engineers, lamp rerating)."""

FILAMENT_COLD_SHARE = 0.1
"""Cold resistance as a share of the hot one: 1/10 (lamp-driver application notes)."""

DIODE_LEAK_S = 1e-8
"""Reverse leakage of a rectifier as a conductance: 0.1 uA at 12 V (common practice)."""

ALTERNATOR_KNEE_A = 0.05
"""Width of the rounding of the regulator's and the limit's corner; far below any reading."""

ALTERNATOR_OWN_S = 1e-3
"""What the regulator of a turning alternator takes for itself: 14 mA (common practice)."""

CELL_KNEE_V = 1e-6
"""Width of the rounding between the discharging and the charging line of a battery."""

MOTOR_FRICTION_SHARE = 0.3
"""Share of the running torque that is friction and does not fall with speed (common practice)."""

MOTOR_KNEE_V = 1e-3
"""Width of the rounding where a motor begins to turn."""


@dataclass(frozen=True, slots=True)
class Resistance:
    """i = u / ohm. `inf` is an open circuit."""

    ohm: float
    kind: ClassVar[str] = "resistance"

    @property
    def siemens(self) -> float:
        return 0.0 if math.isinf(self.ohm) else 1.0 / max(self.ohm, MIN_OHM)


OPEN = Resistance(math.inf)


@dataclass(frozen=True, slots=True)
class Cell:
    """A battery, or any source with an internal resistance: a is plus.

    Discharging it gives (emf_v - u) / ohm. Charging it takes (u - emf_v) / charge_ohm: a battery
    accepts far less current than it can give. With `charge_ohm` equal to `ohm` it is the linear
    source of the text books.
    """

    emf_v: float
    ohm: float
    charge_ohm: float
    kind: ClassVar[str] = "cell"

    def parameters(self) -> tuple[float, ...]:
        ohm = max(self.ohm, MIN_OHM)
        return (self.emf_v, 1.0 / ohm, 1.0 / max(self.charge_ohm, ohm))


def source(emf_v: float, ohm: float) -> Cell:
    """Return a linear source of `emf_v` volts behind `ohm`."""
    return Cell(emf_v, ohm, ohm)


@dataclass(frozen=True, slots=True)
class Alternator:
    """Alternator with regulator: holds `regulated_v` behind `ohm` until `limit_a`; a is plus.

    Its rectifier lets no current back.
    """

    regulated_v: float
    limit_a: float
    ohm: float
    kind: ClassVar[str] = "alternator"

    def parameters(self) -> tuple[float, ...]:
        return (self.regulated_v, 1.0 / max(self.ohm, MIN_OHM), max(self.limit_a, 1e-3))


@dataclass(frozen=True, slots=True)
class Filament:
    """Incandescent lamp drawing `rated_a` at `rated_v`: i ~ u^0.55, from its cold resistance up.

    i = k u (u^2 + d^2)^(-0.225), where d makes the resistance at u = 0 a tenth of the hot one.
    """

    rated_a: float
    rated_v: float
    kind: ClassVar[str] = "filament"

    def parameters(self) -> tuple[float, ...]:
        cold_v = self.rated_v * FILAMENT_COLD_SHARE ** (1 / (1 - FILAMENT_EXPONENT))
        hot = (self.rated_v**2 + cold_v**2) ** ((FILAMENT_EXPONENT - 1) / 2)
        return (self.rated_a / (self.rated_v * hot), cold_v**2)


@dataclass(frozen=True, slots=True)
class Junction:
    """Diode or LED, anode a: i = Is (exp(u / nVt) - 1) + leakage, with `series_ohm` in line.

    Given by a forward voltage at a forward current (of the junction, without `series_ohm`).
    """

    forward_v: float
    forward_a: float
    slope_v: float
    series_ohm: float = 0.0
    kind: ClassVar[str] = "junction"

    @property
    def saturation_a(self) -> float:
        return self.forward_a / math.expm1(self.forward_v / self.slope_v)

    def parameters(self) -> tuple[float, ...]:
        return (self.saturation_a, self.slope_v)


@dataclass(frozen=True, slots=True)
class Motor:
    """Permanent-magnet motor: `running_a` at `rated_v` under its usual load, `stalled_a` held fast.

    Up to the friction share of its running torque it stands still and is a plain resistance; above,
    it turns and its own voltage takes up most of what is applied. Odd in u: it turns both ways.
    """

    running_a: float
    stalled_a: float
    rated_v: float
    kind: ClassVar[str] = "motor"

    @property
    def winding_ohm(self) -> float:
        return self.rated_v / self.stalled_a

    @property
    def starting_v(self) -> float:
        """The voltage below which it does not turn."""
        return self.winding_ohm * MOTOR_FRICTION_SHARE * self.running_a

    def parameters(self) -> tuple[float, ...]:
        rising_a = (1 - MOTOR_FRICTION_SHARE) * self.running_a
        still = 1.0 / self.winding_ohm
        turning = rising_a / (self.rated_v - self.starting_v)
        return (still, max(still - turning, 0.0), self.starting_v)

    def speed_share(self, volts: float, amperes: float) -> float:
        """Return the speed as a share of that at the rated voltage: back voltage by back
        voltage."""
        own = abs(volts) - self.winding_ohm * abs(amperes)
        return max(0.0, own / (self.rated_v - self.winding_ohm * self.running_a))


Law = Resistance | Cell | Alternator | Filament | Junction | Motor


@dataclass(frozen=True, slots=True)
class CoilFigures:
    """When a relay's armature moves: by coil current, so that an open coil never pulls in."""

    pull_in_a: float
    drop_out_a: float


@dataclass(frozen=True, slots=True)
class CoilTerm:
    """A contact waits for this coil to be energised (or released)."""

    coil: str
    energised: bool


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a network.

    `id` is unique in the network. A contact is a `Resistance` with a `gate`: the coils that it
    waits for, all of which must agree; switch positions are settled per condition beforehand.
    """

    id: str
    a: str
    b: str
    law: Law
    role: str = ""
    """wire, plug, bond, or the primitive's type in the part's kind."""
    part: str = ""
    name: str = ""
    """The primitive's own name, when it has one."""
    coil: CoilFigures | None = None
    gate: tuple[CoilTerm, ...] | None = None
    """None for what is no contact; () for a contact that waits for no coil."""
    rated_v: float = 0.0
    rated_a: float = 0.0
    """Loads: the point that their figures are given at. Protection: `rated_a` is the rating."""
    curve: FuseCurve | None = None
    """Protection: how long it carries a multiple of its rating."""
