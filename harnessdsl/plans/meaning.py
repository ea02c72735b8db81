"""What a vehicle says, as plain data: apart from the order of its lines, from spelling, from how a
wire is chained and from where in the text it stands. Two vehicles are compared by this.

Evidence, notes and photos are remarks: they say how one knows, not what is there, and are left out
unless they are asked for. So are the title's name, build and year.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from harnessdsl.model.evidence import Evidence
from harnessdsl.model.kind import Kind, Primitive
from harnessdsl.model.vehicle import End, Part, Vehicle, Wire
from harnessdsl.quantity import UNITS, Quantity

Fields = dict[str, Any]
"""Field -> text, number, truth, None, or tuples of these."""
Meaning = dict[str, dict[str, Fields]]
"""Group -> name -> fields."""
Names = Mapping[str, Mapping[str, str]]
"""Group -> old name -> new name; names that are not in it stay."""

GROUPS = ("vehicle", "place", "conductor", "part", "wire", "cable", "run", "circuit", "condition",
          "acceptance")
_BASE_UNIT = {unit.dimension: unit.base for unit in UNITS.values()} | {"power": "W"}


def figure_text(key: tuple[str, str], quantity: Quantity) -> str:
    """Return a figure in base units: 'stalls 75 A'."""
    unit = _BASE_UNIT.get(quantity.dimension, "")
    return " ".join(piece for piece in (key[0], f"{quantity.value:.7g}", unit) if piece)


def _figures(figures: Mapping[tuple[str, str], Quantity]) -> str:
    return ", ".join(figure_text(key, figures[key]) for key in sorted(figures))


def _primitive(primitive: Primitive) -> str:
    pieces = [_figures(primitive.figures), *primitive.flags]
    pieces += [f"when {clause.actuator}{' ' + clause.of if clause.of else ''} = "
               f"{' or '.join(clause.positions)}" for clause in primitive.clauses]
    pieces += [f"{temperature_c:g} C {ohm:g} ohm" for temperature_c, ohm in primitive.table]
    return "; ".join(piece for piece in pieces if piece) or "as is"


def _kind(kind: Kind) -> Fields:
    fields: Fields = {"kind": kind.name, "family": kind.family, "letter": kind.letter,
                      "safety": kind.safety, "figures": _figures(kind.figures)}
    if not kind.any_terminals:
        for terminal in kind.terminals.values():
            if terminal.name:
                fields[f"terminal {terminal.name}"] = (
                    terminal.side.value, terminal.role, terminal.case)
    counts: dict[str, int] = {}
    for primitive in kind.primitives:
        name = f" {primitive.name}" if primitive.name else ""
        key = f"{primitive.type}{name} {primitive.a} -> {primitive.b}"
        counts[key] = counts.get(key, 0) + 1
        fields[key if counts[key] == 1 else f"{key} ({counts[key]})"] = _primitive(primitive)
    for actuator in kind.actuators.values():
        fields[f"actuator {actuator.name}"] = (actuator.positions, actuator.rest,
                                               actuator.momentary)
    return fields


def _evidence(evidence: Evidence) -> Fields:
    return {"evidence": (evidence.trust.word, evidence.note, evidence.date, evidence.by)}


def _part(part: Part, remarks: bool) -> Fields:
    fields = {"label": part.label, "place": part.place, "slot": part.slot, "zone": part.zone,
              "metal": part.conductor, "flags": tuple(sorted(part.flags)),
              "unfused": bool(part.unfused_reason), **_kind(part.kind)}
    if part.connector is not None:
        body = part.connector
        fields |= {"cavities": body.cavities, "rows": body.rows, "of": body.of}
        for name, half in sorted(body.halves.items()):
            fields |= {f"half {name}": (half.gender, half.shell, half.label, half.ways),
                       f"half {name} place": half.place}
    if remarks:
        fields |= {"note": part.note, "fitted": part.fitted, "unfused reason": part.unfused_reason,
                   **_evidence(part.evidence)}
    return fields


def _end(end: End) -> tuple[str, str, str]:
    return end.part, end.half, end.terminal


def end_name(end: tuple[str, str, str]) -> str:
    """Return an end as it is written in a wire: X5.b.2, K2.30, J3."""
    return ".".join(piece for piece in end if piece)


def given_name(wire: Wire) -> str:
    """Return the name that the file gives a wire; '' when it is called after its ends."""
    own = f"{wire.a}-{wire.b}"
    return "" if wire.name == own or wire.name.startswith(f"{own}#") else wire.name


def _shared_lengths(vehicle: Vehicle) -> set[str]:
    """Return the wires whose length is their share of a chain's: an estimate, which changes with
    the chain's other pieces. The last piece of a chain never has a length of its own."""
    last = {wire.span: wire.length_span for wire in vehicle.wires.values() if wire.chain}
    return {wire.name for wire in vehicle.wires.values()
            if wire.chain and wire.chain_length_m is not None
            and wire.length_span == last[wire.span]}


def _wire(wire: Wire, shared: bool, remarks: bool) -> Fields:
    fields: Fields = {
        "name": given_name(wire), "ends": tuple(sorted((_end(wire.a), _end(wire.b)))),
        "area_mm2": None if wire.area_mm2 is None else round(wire.area_mm2, 4),
        "colour": wire.colour,
        "length_m": None if wire.length_m is None or shared else round(wire.length_m, 4),
        "chain_length_m": round(wire.chain_length_m or 0.0, 4) if shared else None,
        "insulation": wire.insulation, "temperature_class_c": wire.temperature_class_c,
        "material": wire.material, "fusible": wire.fusible, "runs": tuple(sorted(set(wire.via)))}
    if remarks:
        fields |= {"note": wire.note, **_evidence(wire.evidence)}
    return fields


def meaning_of(vehicle: Vehicle, remarks: bool = False) -> Meaning:
    """Return everything that `vehicle` says as plain data; `remarks` adds evidence and notes."""
    found: Meaning = {group: {} for group in GROUPS}
    found["vehicle"]["vehicle"] = {
        "supply_v": vehicle.nominal_v, "positive_earth": vehicle.positive_earth,
        "body": vehicle.body, "cautions": tuple(sorted(vehicle.cautions))}
    for place in vehicle.places.values():
        fields: Fields = {
            "label": place.label, "position_mm": place.position_mm, "zone": place.zone,
            "inside": place.inside, "columns": place.grid_columns,
            "reach": tuple((step.text, round(step.minutes, 3)) for step in place.reach),
            "exposure": tuple(sorted(place.exposure)), "cautions": tuple(sorted(place.cautions))}
        for slot in place.slots.values():
            fields[f"slot {slot.name}"] = (slot.type, slot.label, slot.max_current_a)
        if remarks:
            fields |= {"note": place.note, "photo": place.photo.path if place.photo else "",
                       **_evidence(place.evidence)}
        found["place"][place.name] = fields
    for conductor in vehicle.conductors.values():
        found["conductor"][conductor.name] = {"label": conductor.label,
                                              "resistance_ohm": conductor.resistance_ohm}
    for part in vehicle.parts.values():
        found["part"][part.name] = _part(part, remarks)
    shared = _shared_lengths(vehicle)
    for wire in vehicle.wires.values():
        found["wire"][wire.name] = _wire(wire, wire.name in shared, remarks)
    for cable in vehicle.cables.values():
        found["cable"][cable.name] = {
            "label": cable.label, "wires": tuple(sorted(cable.wires)), "twisted": cable.twisted,
            "screened": cable.screened,
            "screen": _end(cable.screen_end) if cable.screen_end is not None else None}
    for run in vehicle.runs.values():
        found["run"][run.name] = {
            "label": run.label, "places": run.places, "length_m": run.length_m,
            "wires": tuple(sorted(set(run.wires))), "grommets": tuple(sorted(run.grommets)),
            "cover": run.cover, **(_evidence(run.evidence) if remarks else {})}
    for circuit in vehicle.circuits.values():
        found["circuit"][circuit.name] = {
            "label": circuit.label, "parts": tuple(sorted(circuit.parts)),
            "safety": circuit.safety, **({"note": circuit.note} if remarks else {})}
    for condition in vehicle.conditions.values():
        found["condition"][condition.name] = {
            "label": condition.label,
            "positions": tuple(sorted((p, a, v) for (p, a), v in condition.positions.items())),
            "temperatures_c": tuple(sorted(condition.temperatures_c.items())),
            "engine_running": condition.engine_running, "moving": condition.moving,
            "states": tuple(sorted((p, a, v) for (p, a), v in condition.states.items()))}
    for acceptance in vehicle.acceptances:
        found["acceptance"][f"{acceptance.code} {acceptance.subject}".strip()] = {
            "code": acceptance.code, "subject": acceptance.subject,
            **({"reason": acceptance.reason} if remarks else {})}
    return found


# other names

Rename = Callable[[str, str], str]


def _ends(value: Any, to: Rename) -> Any:
    return tuple(sorted((to("part", part), half, terminal) for part, half, terminal in value))


_TRANSLATE: dict[tuple[str, str], Callable[[Any, Rename], Any]] = {
    ("place", "inside"): lambda v, to: to("place", v),
    ("part", "place"): lambda v, to: to("place", v),
    ("part", "half a place"): lambda v, to: to("place", v),
    ("part", "half b place"): lambda v, to: to("place", v),
    ("part", "of"): lambda v, to: to("part", v),
    ("part", "metal"): lambda v, to: to("conductor", v),
    ("wire", "ends"): _ends,
    ("wire", "runs"): lambda v, to: tuple(sorted(to("run", n) for n in v)),
    ("cable", "wires"): lambda v, to: tuple(sorted(to("wire", n) for n in v)),
    ("cable", "screen"): lambda v, to: v and (to("part", v[0]), v[1], v[2]),
    ("run", "places"): lambda v, to: tuple(to("place", n) for n in v),
    ("run", "wires"): lambda v, to: tuple(sorted(to("wire", n) for n in v)),
    ("run", "grommets"): lambda v, to: tuple(sorted(to("place", n) for n in v)),
    ("circuit", "parts"): lambda v, to: tuple(sorted(to("part", n) for n in v)),
    ("condition", "positions"): lambda v, to: tuple(sorted((to("part", p), a, x)
                                                           for p, a, x in v)),
    ("condition", "states"): lambda v, to: tuple(sorted((to("part", p), a, x) for p, a, x in v)),
    ("condition", "temperatures_c"): lambda v, to: tuple(sorted((to("part", p), c)
                                                                for p, c in v)),
    ("acceptance", "subject"): lambda v, to: to("part", to("wire", to("place", v))),
}


def renamed_fields(group: str, fields: Fields, names: Names) -> Fields:
    """Return the fields with every name that they mention replaced."""

    def to(of: str, name: str) -> str:
        return names.get(of, {}).get(name, name)

    found = dict(fields)
    for field in fields:
        translate = _TRANSLATE.get((group, field))
        if translate is not None:
            found[field] = translate(fields[field], to)
    return found


def renamed(meaning: Meaning, names: Names) -> Meaning:
    """Return the same meaning under other names."""
    found: Meaning = {}
    for group, things in meaning.items():
        found[group] = {}
        for name, fields in things.items():
            new = renamed_fields(group, fields, names)
            key = names.get(group, {}).get(name, name)
            if group == "acceptance":
                key = f"{new['code']} {new['subject']}".strip()
            found[group][key] = new
    return found
