"""The order of work of a plan: steps with cautions, and the checks after each.

Battery off first; take out; fit; connect earths, then the rest, then what is live without a fuse;
measure; battery on; fuses in one by one; try every state that is concerned. The order is that of
the trade (common practice, no source). The maker's data and local rules come before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from harnessdsl.electric.conductors import cable_ohm_per_m
from harnessdsl.electric.operating_point import OperatingPoint, matrix
from harnessdsl.model.location import access, part_places
from harnessdsl.model.topology import build_topology
from harnessdsl.model.vehicle import Condition, Vehicle, Wire
from harnessdsl.plans.behaviour import REST, LoadChange
from harnessdsl.plans.compare import Comparison, Difference, natural
from harnessdsl.plans.cut_list import needs_cutting
from harnessdsl.plans.meaning import end_name

CRIMP_OHM = 0.005
"""Two crimped ends add this to a wire (common practice, no source)."""
LEADS_OHM = 0.3
"""A workshop meter's own leads and the contact of its tips read up to this much."""

_CAUTIONS = {
    "airbag": "Airbag or belt tensioner: battery off, then wait as long as the maker says; never "
    "put a meter or a lamp on an igniter. This work is for the licensed trade.",
    "fuel": "Fuel: no spark, no naked lamp; relieve the pressure before a line is opened.",
    "high-voltage": "Ignition: can kill. Engine off and key out before it is touched.",
    "fan": "The fan may start by itself, even with the key out: keep hands and wires clear.",
    "battery": "Battery: earth lead off first and on last; a spanner across its poles burns.",
}
"""A hazard's word -> what to tell the person who works there, the gravest first."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work. Everything in it is done before the next one begins."""

    title: str
    actions: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    reach: tuple[str, ...] = ()
    """How to get at the place, with minutes."""


@dataclass(slots=True)
class _AtPlace:
    """What is to be done in one place."""

    actions: list[str] = field(default_factory=list)
    checks: list[str] = field(default_factory=list)


class WorkOrder:
    """Makes the steps that turn one vehicle into the other."""

    def __init__(self, before: Vehicle, after: Vehicle, comparison: Comparison,
                 differently: Sequence[LoadChange] = ()) -> None:
        self.before = before
        self.differently = {(c.condition, c.part) for c in differently}
        self.after = after
        self.comparison = comparison
        self.wires = comparison.of_group("wire")
        self.parts = comparison.of_group("part")
        self.spliced: set[str] = set()
        self.cut = {d.after for d in self.wires if d.after and needs_cutting(d, before, after)}

    def steps(self) -> list[Step]:
        """Return all steps in order; none when there is nothing to do on the car."""
        if not self.wires and not self.parts:
            return []
        return [self._battery_off(), *self._take_out(), *self._fit(), *self._connect(),
                self._measure_dead(), *self._battery_on()]

    # cautions

    def _safety_touched(self) -> list[str]:
        """Return the safety systems that the plan touches."""
        touched: set[str] = set()
        for vehicle, names in ((self.before, {d.before for d in self.parts if d.before}),
                               (self.after, {d.after for d in self.parts if d.after})):
            wires = {d.before if vehicle is self.before else d.after for d in self.wires} - {""}
            near = names | {end.part for name in wires for end in (vehicle.wires[name].a,
                                                                   vehicle.wires[name].b)}
            touched |= {vehicle.parts[name].kind.safety for name in near}
            touched |= {circuit.safety for circuit in vehicle.circuits.values()
                        if circuit.safety and names & set(circuit.parts)}
        return sorted(touched - {""})

    def _cautions_at(self, vehicle: Vehicle, place: str) -> list[str]:
        return [_CAUTIONS.get(word, word) for word in access(vehicle, place).cautions]

    def _battery_off(self) -> Step:
        cautions = [_CAUTIONS["battery"]]
        actions = ["Write down radio codes and take photographs of everything that will be moved.",
                   "Take the earth lead off the battery, and see to it that it can't spring back.",
                   "Put a label on every wire before it is taken off."]
        safety = self._safety_touched()
        if safety:
            cautions.insert(0, _CAUTIONS["airbag"])
            actions.insert(2, f"The plan touches a safety system ({', '.join(safety)}): wait as "
                           "long as the maker says, and leave that part of the work to the "
                           "licensed trade.")
        cautions += [text for text in dict.fromkeys((*self.before.cautions, *self.after.cautions))]
        batteries = [p.name for p in self.before.parts.values() if p.family == "battery"]
        if len(batteries) > 1:
            actions[1] = f"Take the earth leads off all batteries: {', '.join(batteries)}."
        return Step("Battery off", tuple(actions), tuple(cautions),
                    ("Interior lamp and horn are dead; 0 V from the main fuses to the body.",))

    # taking out

    def _take_out(self) -> list[Step]:
        places: dict[str, _AtPlace] = {}
        for d in self.wires:
            if d.sort == "removed" or (d.after in self.cut and d.before):
                wire = self.before.wires[d.before]
                for end in self._once_a_place(wire, self.before):
                    self._at(places, end, self.before).actions.append(
                        f"Take off {self._wire_words(wire)}.")
            elif d.sort == "changed":
                self._loosen(d, places)
        for d in self.parts:
            if d.sort == "removed" or (d.sort == "changed" and self._is_moved_or_swapped(d)):
                part = self.before.parts[d.before]
                slot = f" from slot {part.slot}" if part.slot else ""
                verb = "Take out" if d.sort == "removed" or not self._stays(d) else "Pull"
                self._at(places, d.before, self.before).actions.append(
                    f"{verb} {d.before} {part.label}{slot}.".replace("  ", " "))
        for here in places.values():
            if any(a.startswith("Take off") or a.startswith("Loosen") for a in here.actions):
                here.checks.append("Every wire end that stays is insulated and tied up; no bare "
                                   "copper, nothing pulled tight.")
        return self._place_steps("Take out", places, self.before)

    def _loosen(self, difference: Difference, places: dict[str, _AtPlace]) -> None:
        wire = self.before.wires[difference.before]
        for change in difference.changes:
            if change.field == "ends":
                gone = [end for end in change.before if end not in self._translated(change.after)]
                for end in gone:
                    self._at(places, end[0], self.before).actions.append(
                        f"Loosen {self._wire_words(wire)} at {end_name(end)}; it stays.")

    def _translated(self, ends: Iterable[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        back = {b: a for a, b in self.comparison.names["part"].items()}
        return [(back.get(part, ""), half, terminal) for part, half, terminal in ends]

    def _is_moved_or_swapped(self, difference: Difference) -> bool:
        return any(change.field in ("place", "slot", "kind") or change.field.startswith("fuse ")
                   for change in difference.changes)

    def _stays(self, difference: Difference) -> bool:
        return any(change.field in ("place", "slot") for change in difference.changes)

    # fitting

    def _fit(self) -> list[Step]:
        places: dict[str, _AtPlace] = {}
        for d in self.parts:
            if not d.after:
                continue
            part = self.after.parts[d.after]
            slot = f" in slot {part.slot}" if part.slot else ""
            kind = part.kind.label or part.kind.name
            rating = f" {part.rating_a():g} A" if part.rating_a() is not None else ""
            here = self._at(places, d.after, self.after)
            if part.family == "splice" and d.sort == "added":
                continue  # it is made when its wires are joined
            if d.sort == "added":
                out = " (leave the fuse itself out)" if part.family == "fuse" else ""
                here.actions.append(f"Fit {d.after} {part.label}: {kind}{rating}{slot}{out}.")
            elif d.sort == "changed" and self._is_moved_or_swapped(d):
                out = " (leave the fuse itself out)" if part.family == "fuse" else ""
                here.actions.append(f"Put {d.after} {part.label}{slot}: {kind}{rating}{out}.")
            if d.is_renamed:
                here.actions.append(f"Label: {d.before} is called {d.after} from now on.")
        for difference in self.comparison.of_group("place"):
            if difference.sort == "added" and difference.after in places:
                place = self.after.places[difference.after]
                places[difference.after].actions.insert(
                    0, f"Make the new place ready: {place.label or place.name}.")
        places = {name: here for name, here in places.items() if here.actions}
        return self._place_steps("Fit", places, self.after)

    # connecting

    def _connect(self) -> list[Step]:
        live = self._live_without_fuse()
        groups: dict[str, list[Difference]] = {"earth": [], "rest": [], "live": []}
        for d in self.wires:
            if not d.after or (d.after not in self.cut and not any(
                    change.field == "ends" for change in d.changes)):
                continue
            wire = self.after.wires[d.after]
            families = {self.after.parts[end.part].family for end in (wire.a, wire.b)}
            if wire.a.node in live and wire.b.node in live:
                groups["live"].append(d)
            elif "earth" in families:
                groups["earth"].append(d)
            else:
                groups["rest"].append(d)
        titles = {"earth": "Connect the earth wires", "rest": "Run and connect the wires",
                  "live": "Connect the feed last: it is live without a fuse as soon as the "
                  "battery is on"}
        steps = []
        for group, title in titles.items():
            if not groups[group]:
                continue
            differences = sorted(groups[group], key=lambda d: natural(d.after))
            actions = tuple(action for d in differences for action in self._connect_actions(d))
            actions += tuple(self._splice_actions(differences))
            checks = tuple(self._continuity(self.after.wires[d.after], group) for d in differences)
            cautions = tuple(dict.fromkeys(
                text for d in differences for place in self._places_of(self.after.wires[d.after])
                for text in self._cautions_at(self.after, place)))
            if group == "live":
                cautions = tuple(dict.fromkeys((_CAUTIONS["battery"], *cautions)))
            steps.append(Step(title, actions, cautions, checks))
        return steps

    def _splice_actions(self, differences: Sequence[Difference]) -> list[str]:
        """Return the making of each new splice, once its last wire is there."""
        new = {d.after for d in self.parts if d.sort == "added"
               and self.after.parts[d.after].family == "splice"}
        here = {end.part for d in differences for end in (self.after.wires[d.after].a,
                                                         self.after.wires[d.after].b)}
        found = []
        for name in sorted(new & here - self.spliced, key=natural):
            self.spliced.add(name)
            wires = [w for w in self.after.wires.values() if name in (w.a.part, w.b.part)]
            ends = [str(w.b if w.a.part == name else w.a) for w in wires]
            total_mm2 = sum(w.area_mm2 or 0.0 for w in wires)
            found.append(f"Make splice {name}{self._where(name)}: {', '.join(ends)}, "
                         f"{total_mm2:g} mm2 together; close it with a sleeve that seals.")
        return found

    def _connect_actions(self, difference: Difference) -> list[str]:
        wire = self.after.wires[difference.after]
        way = f" through {', '.join(wire.via)}" if wire.via else ""
        if difference.after in self.cut:
            return [f"Run {self._wire_words(wire)}{way}: {self._end_words(wire)}."]
        found = []
        for change in difference.changes:
            if change.field == "ends":
                before = self._forward(change.before)
                for end in change.after:
                    if end not in before:
                        found.append(f"Lead {self._wire_words(wire)} to {end_name(end)}"
                                     f"{self._where(end[0])}.")
        return found

    def _forward(self, ends: Iterable[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
        names = self.comparison.names["part"]
        return [(names.get(part, ""), half, terminal) for part, half, terminal in ends]

    def _end_words(self, wire: Wire) -> str:
        return " to ".join(f"{end}{self._where(end.part)}" for end in (wire.a, wire.b))

    def _where(self, part: str) -> str:
        place = self.after.parts[part].place
        return f" ({place})" if place else ""

    def _continuity(self, wire: Wire, group: str) -> str:
        ohm = None
        if wire.area_mm2 and wire.length_m:
            ohm = cable_ohm_per_m(wire.area_mm2, wire.material) * wire.length_m + CRIMP_OHM
        words = (f"{wire.a} to {wire.b}: below {LEADS_OHM + (ohm or 0.0):.1f} ohm"
                 + (f" ({ohm * 1000:.0f} milliohm without the meter's leads)" if ohm else ""))
        if group == "earth":
            return words + "; and the same from its far end to the battery's earth lead"
        return words

    def _live_without_fuse(self) -> set[str]:
        topology = build_topology(self.after)
        found: set[str] = set()
        for part in self.after.parts.values():
            for primitive in part.kind.primitives:
                if primitive.type == "source":
                    pole = primitive.b if self.after.positive_earth else primitive.a
                    found |= set(topology.reach(
                        f"{part.name}.{pole}", lambda edge: edge.type in ("wire", "plug", "joint")))
        return found

    # measuring

    def _measure_dead(self) -> Step:
        fuses = [d.after for d in self.parts if d.after and d.sort in ("added", "changed")
                 and self.after.parts[d.after].family == "fuse"]
        checks = ["Every new wire and terminal: pull at it; no strand stands out, no bare copper.",
                  "From the battery's positive lead to the body, battery still off, key out, doors "
                  "shut: no short (below 1 ohm means one).".replace(
                      "positive lead", "negative lead" if self.after.positive_earth
                      else "positive lead")]
        if fuses:
            names = ", ".join(sorted(fuses, key=natural))
            checks.append(f"With {names} out: from the load side of each "
                          "fuse to the body no short; what is read there is its load alone.")
        return Step("Measure before the battery goes on", ("Nothing is switched on yet.",), (),
                    tuple(checks))

    def _battery_on(self) -> list[Step]:
        points = self._points()
        fuses = sorted((d.after for d in self.parts if d.after and d.sort in ("added", "changed")
                        and self.after.parts[d.after].family == "fuse"), key=natural)
        first = Step("Battery on", (
            "Put the earth lead on the battery, last of all; a small spark is the radio's memory, "
            "a crack is a short: off again at once.",
            *(f"Put in {name} {self.after.parts[name].label}, "
              f"{self.after.parts[name].rating_a() or 0:g} A; feel for warmth."
              for name in fuses)),
            ("Never a larger fuse than the list says: when one blows, find out why.",),
            tuple(self._rest_checks(points)))
        return [first, *self._trials(points)]

    def _points(self) -> dict[str, OperatingPoint]:
        if not any(p.type == "source" for part in self.after.parts.values()
                   for p in part.kind.primitives):
            return {}
        conditions = [*self.after.conditions.values(), Condition(REST)]
        return {name: point for name, point in matrix(self.after, conditions).items()
                if not point.failure}

    def _touched_nodes(self) -> list[str]:
        """Return the terminals at which the plan's wires end, of parts that a person can probe."""
        nodes: list[str] = []
        for d in self.wires:
            if d.after:
                wire = self.after.wires[d.after]
                nodes += [end.node for end in (wire.a, wire.b)
                          if self.after.parts[end.part].family not in ("splice", "connector",
                                                                       "earth")]
        for d in self.parts:
            if d.after and self.after.parts[d.after].family in ("relay", "fuse"):
                nodes += [f"{d.after}.{name}" for name in self.after.parts[d.after].kind.terminals]
        return sorted(dict.fromkeys(nodes), key=natural)

    def _rest_checks(self, points: dict[str, OperatingPoint]) -> list[str]:
        point = points.get(REST)
        if point is None:
            return []
        volts = [(node, abs(point.voltage_v(node))) for node in self._touched_nodes()
                 if _known(point, node)]
        live = [f"{node} {value:.1f} V" for node, value in volts if value > 1.0]
        dead = [node for node, value in volts if value < 0.1]
        drain_a = sum(abs(point.current_a(e.id)) for e in point.network.circuit.elements
                      if e.role == "source")
        checks = [f"Drain with everything off: about {drain_a * 1000:.0f} mA, a meter in the earth "
                  "lead (10 A range first, doors shut)."]
        if live:
            checks.append("To the body, everything off: " + ", ".join(live) + ".")
        if dead:
            checks.append("Dead with everything off: " + ", ".join(dead) + ".")
        return checks

    def _trials(self, points: dict[str, OperatingPoint]) -> list[Step]:
        """Return one step for each state of the car that shows something of the plan at work."""
        best: dict[str, tuple[float, str]] = {}
        rest = points.get(REST)
        nodes = [node for node in self._touched_nodes() if rest is None or not _known(rest, node)
                 or abs(rest.voltage_v(node)) < 1.0]
        for name, point in points.items():
            if name == REST:
                continue
            for node in nodes:
                if _known(point, node):
                    value = abs(point.voltage_v(node))
                    if value > best.get(node, (1.0, ""))[0] + 0.05:
                        best[node] = (value, name)
        by_condition: dict[str, list[str]] = {}
        for node, (value, name) in best.items():
            by_condition.setdefault(name, []).append(f"{node} {value:.1f} V")
        changed = {d.after for d in self.parts} | {
            end.part for d in self.wires if d.after
            for end in (self.after.wires[d.after].a, self.after.wires[d.after].b)}
        steps = []
        for name in points:
            if name == REST:
                continue
            condition = self.after.conditions[name]
            loads = [load for load in points[name].loads if (name, load.part) in self.differently
                     or (load.on and load.part in changed and name in by_condition)]
            if not loads and name not in by_condition:
                continue
            works = [f"{load.part}{' ' + load.name if load.name else ''} "
                     f"{self.after.parts[load.part].label} "
                     f"{'works' if load.on else 'is off'}: {abs(load.voltage_v):.1f} V, "
                     f"{abs(load.current_a):.1f} A".replace("  ", " ") for load in loads]
            settings = [f"{part}{'' if actuator == 'main' else '.' + actuator} = {value}"
                        for (part, actuator), value in condition.positions.items()
                        if self.after.parts[part].family not in ("module", "ignition")]
            if condition.engine_running:
                settings.append("engine running")
            running = ("Engine running: clear of fan and belts, and never in a closed room.",
                       ) if condition.engine_running else ()
            steps.append(Step(f"Try: {condition.label or name}",
                              (f"Set {', '.join(settings)}." if settings else "Everything off.",),
                              running,
                              (*works, *(["To the body: " + ", ".join(by_condition[name]) + "."]
                                         if name in by_condition else []))))
        return steps

    # places and words

    def _once_a_place(self, wire: Wire, vehicle: Vehicle) -> list[str]:
        found: dict[str, str] = {}
        for end in (wire.a, wire.b):
            found.setdefault(self._place(end.part, vehicle), end.part)
        return list(found.values())

    @staticmethod
    def _place(part: str, vehicle: Vehicle) -> str:
        places = part_places(vehicle.parts[part], vehicle)
        return places[0] if places else ""

    def _places_of(self, wire: Wire) -> list[str]:
        return [place for end in (wire.a, wire.b)
                if (place := self._place(end.part, self.after)) in self.after.places]

    def _at(self, places: dict[str, _AtPlace], part: str, vehicle: Vehicle) -> _AtPlace:
        return places.setdefault(self._place(part, vehicle), _AtPlace())

    def _wire_words(self, wire: Wire) -> str:
        looks = " ".join(p for p in (wire.area_text, wire.colour) if p)
        return f"{wire.a}-{wire.b} ({looks})" if looks else f"{wire.a}-{wire.b}"

    def _place_steps(self, verb: str, places: dict[str, _AtPlace], vehicle: Vehicle
                     ) -> list[Step]:
        """Return one step a place, from front to rear."""
        def from_front(name: str) -> tuple[float, str]:
            place = vehicle.places.get(name)
            position = place.position_mm if place is not None else None
            return (position[0] if position is not None else 1e9, name)

        steps = []
        for name in sorted(places, key=from_front):
            here = places[name]
            known = name in vehicle.places
            label = vehicle.places[name].label or name if known else name or "place not written"
            reach = tuple(f"{text} ({minutes:g} min)" if minutes else text
                          for _, text, minutes in access(vehicle, name).steps) if known else ()
            steps.append(Step(f"{verb}: {label}", tuple(dict.fromkeys(here.actions)),
                              tuple(self._cautions_at(vehicle, name)) if known else (),
                              tuple(here.checks), reach))
        return steps


def _known(point: OperatingPoint, node: str) -> bool:
    return node in point.network.circuit.node_index and not point.is_floating(node)


def work_order(before: Vehicle, after: Vehicle, comparison: Comparison,
               differently: Sequence[LoadChange] = ()) -> list[Step]:
    """Return the steps that turn `before` into `after`; loads that work `differently` are tried."""
    return WorkOrder(before, after, comparison, differently).steps()
