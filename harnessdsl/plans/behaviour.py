"""What two vehicles do differently: findings, loads in every condition, fuses, drops, drain.

The circuits are computed for the conditions that both have, and with everything at rest. Figures
are for a battery and wires as the files say; they are no promise about an old car's contacts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.operating_point import LoadState, OperatingPoint, matrix
from harnessdsl.model.vehicle import Condition, Vehicle
from harnessdsl.plans.compare import Comparison, natural

REST = "everything at rest"
VOLTS_LEAST = 0.1
"""A smaller change of the voltage at a load is not worth a line (common practice, no source)."""
SHARE_LEAST = 0.05
"""A smaller change of a fuse's load, as a share of its rating, is not worth a line."""
DRAIN_LEAST_A = 0.001
USABLE_SHARE = 0.5
"""Half of a battery's capacity is counted until the car does not start (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class LoadChange:
    """One load in one condition. A state is '' where the load does not exist."""

    condition: str
    part: str
    name: str
    label: str
    before_state: str
    after_state: str
    before_v: float = 0.0
    after_v: float = 0.0
    before_a: float = 0.0
    after_a: float = 0.0

    @property
    def works_differently(self) -> bool:
        return self.before_state != self.after_state


@dataclass(frozen=True, slots=True)
class FuseChange:
    """One fuse at its highest load over all conditions; its rating is None where it is not."""

    part: str
    label: str
    before_a: float | None
    after_a: float | None
    before_rating_a: float | None
    after_rating_a: float | None
    condition: str
    """The condition of the highest load afterwards, or before where it is gone."""
    opens: str = ""
    """'before', 'after' or 'both' when its curve does not carry the current."""


@dataclass(frozen=True, slots=True)
class Drain:
    """The battery's current with everything at rest, and the days until half of it is gone."""

    before_a: float
    after_a: float
    before_days: float | None
    after_days: float | None

    @property
    def changed(self) -> bool:
        return abs(self.before_a - self.after_a) >= DRAIN_LEAST_A


@dataclass(frozen=True, slots=True)
class Behaviour:
    """Everything that works differently, before against after."""

    new_findings: tuple[Diagnostic, ...]
    gone_findings: tuple[Diagnostic, ...]
    loads: tuple[LoadChange, ...]
    drops: tuple[LoadChange, ...]
    """Loads that work as before, at another voltage: the largest change over all conditions."""
    fuses: tuple[FuseChange, ...]
    drain: Drain | None
    new_warnings: tuple[tuple[str, str], ...]
    """(condition, message) of what the computation found odd and had not before."""
    gone_warnings: tuple[tuple[str, str], ...]
    conditions: tuple[str, ...]
    """The conditions that were compared."""
    only_in_one: tuple[str, ...]
    """Conditions that only one of the two declares; they were carried over to the other."""

    def __bool__(self) -> bool:
        return bool(self.new_findings or self.gone_findings or self.loads or self.drops
                    or self.fuses or (self.drain is not None and self.drain.changed)
                    or self.new_warnings or self.gone_warnings)


def compare_behaviour(before: Vehicle, after: Vehicle, comparison: Comparison,
                      findings_before: Sequence[Diagnostic],
                      findings_after: Sequence[Diagnostic]) -> Behaviour:
    """Return what works differently. The findings are those of the checks on each vehicle."""
    new, gone = _findings(comparison, findings_before, findings_after)
    shared, only_one = _conditions(before, after, comparison)
    points_a = _points(before, [a for a, _ in shared])
    points_b = _points(after, [b for _, b in shared])
    together = [(b.name, points_a.get(a.name), points_b.get(b.name)) for a, b in shared]
    loads, drops = _loads(before, after, comparison, together)
    warnings_new, warnings_gone = _warnings(comparison, together)
    return Behaviour(new, gone, loads, drops, _fuses(before, after, comparison, together),
                     _drain(before, after, points_a.get(REST), points_b.get(REST)),
                     warnings_new, warnings_gone, tuple(name for name, _, _ in together),
                     tuple(only_one))


def _conditions(before: Vehicle, after: Vehicle, comparison: Comparison
                ) -> tuple[list[tuple[Condition, Condition]], list[str]]:
    """Return the conditions of both side by side, and the names of those that only one declares:
    the other is then looked at with those of its settings that it has."""
    pairs = comparison.names["condition"]
    parts = comparison.names["part"]
    shared = [(before.conditions[a], after.conditions[b]) for a, b in pairs.items()]
    shared.append((Condition(REST), Condition(REST)))
    only = []
    taken = {c.name for pair in shared for c in pair}
    for name, condition in after.conditions.items():
        if name not in pairs.values():
            back = {b: a for a, b in parts.items()}
            shared.append((_carried(condition, before, back, taken), condition))
            only.append(name)
    for name, condition in before.conditions.items():
        if name not in pairs:
            shared.append((condition, _carried(condition, after, parts, taken)))
            only.append(name)
    return shared, sorted(only, key=natural)


def _carried(condition: Condition, vehicle: Vehicle, parts: Mapping[str, str], taken: set[str]
             ) -> Condition:
    """Return a condition of the other vehicle with the settings that this one can have."""
    positions = {}
    for (part, actuator), position in condition.positions.items():
        name = parts.get(part, "")
        found = vehicle.parts[name].kind.actuators.get(actuator) if name else None
        if found is not None and position in found.positions:
            positions[name, actuator] = position
    temperatures = {parts.get(part, part): value for part, value in
                    condition.temperatures_c.items()
                    if part in parts or part in ("engine", "ambient")}
    states = {(parts[part], what): state for (part, what), state in condition.states.items()
              if part in parts}
    name = condition.name
    while name in taken:
        name += "-"
    taken.add(name)
    return Condition(name, condition.label, positions, temperatures, condition.engine_running,
                     states)


# findings

def _findings(comparison: Comparison, before: Sequence[Diagnostic], after: Sequence[Diagnostic]
              ) -> tuple[tuple[Diagnostic, ...], tuple[Diagnostic, ...]]:
    """Return the findings that are new and those that are gone. Two are the same when they are of
    the same check about the same thing, whatever figures they name. Notes that something is only
    guessed are left out: a plan is always that."""
    names: dict[str, str] = {}
    for group in ("place", "wire", "part"):
        names |= comparison.names[group]

    def key(finding: Diagnostic, translate: Mapping[str, str]) -> tuple[str, str, bool]:
        subject = finding.subject or finding.message
        return finding.code, translate.get(subject, subject), finding.accepted is not None

    def judged(findings: Iterable[Diagnostic]) -> list[Diagnostic]:
        return [f for f in findings if not (f.severity is Severity.NOTE and (
            f.accepted is not None or f.code.startswith("evidence")))]

    left = Counter(key(f, names) for f in judged(before))
    new = []
    for finding in judged(after):
        k = key(finding, {})
        if left[k]:
            left[k] -= 1
        else:
            new.append(finding)
    right = Counter(key(f, {}) for f in judged(after))
    gone = []
    for finding in judged(before):
        k = key(finding, names)
        if right[k]:
            right[k] -= 1
        else:
            gone.append(finding)
    return tuple(new), tuple(gone)


# the computed circuits

def _points(vehicle: Vehicle, conditions: Sequence[Condition]) -> dict[str, OperatingPoint]:
    if not any(p.type in ("source", "alternator") for part in vehicle.parts.values()
               for p in part.kind.primitives):
        return {}
    return matrix(vehicle, conditions)


LoadKey = tuple[str, str, int]
"""(part, name of the element, number among those of the same name)"""
Together = Sequence[tuple[str, OperatingPoint | None, OperatingPoint | None]]


def _keyed(point: OperatingPoint | None, names: Mapping[str, str]) -> dict[LoadKey, LoadState]:
    found: dict[LoadKey, LoadState] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for load in point.loads if point is not None and not point.failure else ():
        part = names.get(load.part, load.part)
        found[part, load.name, counts[part, load.name]] = load
        counts[part, load.name] += 1
    return found


def _loads(before: Vehicle, after: Vehicle, comparison: Comparison, together: Together
           ) -> tuple[tuple[LoadChange, ...], tuple[LoadChange, ...]]:
    names = {a: comparison.names["part"].get(a, f"\0{a}") for a in before.parts}
    differently: list[LoadChange] = []
    drops: dict[LoadKey, LoadChange] = {}
    for condition, point_a, point_b in together:
        here, there = _keyed(point_a, names), _keyed(point_b, {})
        for key in sorted({*here, *there}, key=lambda k: (natural(k[0].strip("\0")), k)):
            a, b = here.get(key), there.get(key)
            part = key[0].strip("\0")
            label = (after.parts[part] if b is not None else before.parts[part]).label
            change = LoadChange(
                condition, part, key[1], label, _state(a), _state(b),
                abs(a.voltage_v) if a else 0.0, abs(b.voltage_v) if b else 0.0,
                abs(a.current_a) if a else 0.0, abs(b.current_a) if b else 0.0)
            if a is None or b is None:
                if "on" in (change.before_state, change.after_state):
                    differently.append(change)
            elif change.works_differently:
                differently.append(change)
            elif a.on and abs(change.after_v - change.before_v) >= VOLTS_LEAST:
                best = drops.get(key)
                if best is None or abs(change.after_v - change.before_v) > abs(
                        best.after_v - best.before_v):
                    drops[key] = change
    return tuple(differently), tuple(drops.values())


def _state(load: LoadState | None) -> str:
    if load is None:
        return ""
    return "off" if load.state == "trace" else load.state


def _fuses(before: Vehicle, after: Vehicle, comparison: Comparison, together: Together
           ) -> tuple[FuseChange, ...]:
    highest_a, highest_b = _highest(point for _, point, _ in together), _highest(
        point for _, _, point in together)
    conditions = [name for name, _, _ in together]
    pairs = comparison.names["part"]
    back = {b: a for a, b in pairs.items()}
    found = []
    parts = [*(("", b) for b in highest_b), *((a, "") for a in highest_a if a not in pairs)]
    for gone, part in parts:
        one = highest_a.get(gone or back.get(part, ""))
        other = highest_b.get(part) if part else None
        rating_a, rating_b = _rating(before, gone or back.get(part, "")), _rating(after, part)
        opens = {(False, False): "", (True, False): "before", (False, True): "after",
                 (True, True): "both"}[bool(one and one[2]), bool(other and other[2])]
        change = FuseChange(part or gone, (after.parts[part] if part else before.parts[gone]).label,
                            one[0] if one else None, other[0] if other else None,
                            rating_a, rating_b, conditions[(other or one or (0, 0))[1]], opens)
        if _worth_a_line(change):
            found.append(change)
    return tuple(sorted(found, key=lambda c: natural(c.part)))


def _highest(points: Iterable[OperatingPoint | None]) -> dict[str, tuple[float, int, bool]]:
    """Return part -> (highest current, number of the condition, whether it opens in any)."""
    found: dict[str, tuple[float, int, bool]] = {}
    for number, point in enumerate(points):
        for fuse in point.fuses if point is not None and not point.failure else ():
            current, at, opened = found.get(fuse.part, (-1.0, number, False))
            if abs(fuse.current_a) > current:
                current, at = abs(fuse.current_a), number
            found[fuse.part] = (current, at, opened or fuse.opened)
    return found


def _rating(vehicle: Vehicle, part: str) -> float | None:
    return vehicle.parts[part].rating_a() if part in vehicle.parts else None


def _worth_a_line(change: FuseChange) -> bool:
    if change.before_a is None or change.after_a is None or (
            change.before_rating_a != change.after_rating_a or change.opens in ("before", "after")):
        return True
    rating = change.after_rating_a or 1.0
    return abs(change.after_a - change.before_a) / rating >= SHARE_LEAST


def _drain(before: Vehicle, after: Vehicle, point_a: OperatingPoint | None,
           point_b: OperatingPoint | None) -> Drain | None:
    if point_a is None or point_b is None or point_a.failure or point_b.failure:
        return None
    sides = []
    for vehicle, point in ((before, point_a), (after, point_b)):
        batteries = [e for e in point.network.circuit.elements if e.role == "source"]
        drain_a = sum(-point.current_a(e.id) for e in batteries)
        capacity_ah = 0.0
        for name in dict.fromkeys(e.part for e in batteries):
            figures = {**vehicle.parts[name].kind.figures, **vehicle.parts[name].figures}
            quantity = figures.get(("", "capacity"))
            capacity_ah += quantity.value if quantity is not None else 0.0
        days = capacity_ah * USABLE_SHARE / drain_a / 24 if drain_a > 1e-6 and capacity_ah else None
        sides.append((drain_a, days))
    (drain_before, days_before), (drain_after, days_after) = sides
    return Drain(drain_before, drain_after, days_before, days_after)


def _warnings(comparison: Comparison, together: Together
              ) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    names = comparison.names["part"]
    new, gone = [], []
    for condition, point_a, point_b in together:
        here = {(w.code, names.get(w.subject, w.subject)): w.message
                for w in (point_a.warnings(other_states=False) if point_a else ())}
        there = {(w.code, w.subject): w.message
                 for w in (point_b.warnings(other_states=False) if point_b else ())}
        new += [(condition, message) for key, message in there.items() if key not in here]
        gone += [(condition, message) for key, message in here.items() if key not in there]
    return tuple(new), tuple(gone)
