"""A comparison in words, and as plain data for other programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from harnessdsl.model.colour import colour_name
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.plans.compare import MISSING, Change, Comparison, Difference
from harnessdsl.plans.meaning import GROUPS, end_name

TITLES = {"vehicle": "The vehicle", "place": "Places", "conductor": "Metal", "part": "Parts",
          "wire": "Wires", "cable": "Cables", "run": "Harness runs", "circuit": "Circuits",
          "condition": "Conditions", "acceptance": "Accepted findings"}
SIGNS = {"added": "+", "removed": "-", "changed": "~", "renamed": "="}
LEGEND = "+ added   - removed   ~ changed   = only renamed"
_UNITS = {"area_mm2": "mm2", "length_m": "m", "chain_length_m": "m", "temperature_class_c": "C",
          "supply_v": "V", "resistance_ohm": "ohm"}
_WORDS = {"area_mm2": "area", "length_m": "length",
          "chain_length_m": "length of its chain", "position_mm": "position",
          "temperature_class_c": "insulation class", "resistance_ohm": "resistance",
          "supply_v": "supply", "positive_earth": "positive earth", "columns": "grid columns",
          "temperatures_c": "temperatures", "engine_running": "engine running"}


def value_text(field: str, value: Any) -> str:
    """Return a field's value in words."""
    if value == MISSING or value is None or value == "" or value == ():
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if field == "ends":
        return " to ".join(end_name(end) for end in value)
    if field == "colour":
        return f"{value} ({colour_name(value)})"
    if field == "position_mm":
        return ", ".join(f"{x:g}" for x in value) + " mm"
    if field.startswith("slot ") and isinstance(value, tuple):
        kind, label, limit = value
        return " ".join(p for p in (kind, f'"{label}"' if label else "",
                                    f"max {limit:g} A" if limit else "") if p) or "a slot"
    if field == "reach":
        return "; ".join(f"{text} ({minutes:g} min)" for text, minutes in value)
    if field in ("positions", "states"):
        return ", ".join(f"{part}.{what} = {state}" for part, what, state in value)
    if field == "temperatures_c":
        return ", ".join(f"{part} {degrees:g} C" for part, degrees in value)
    if isinstance(value, int | float):
        return f"{value:g} {_UNITS.get(field, '')}".rstrip()
    if isinstance(value, tuple):
        return ", ".join(value_text("", item) for item in value if item not in ("", None, ()))
    return str(value)


def change_text(change: Change) -> str:
    """Return one change: 'colour BN (brown) -> BN/WH (...)'; of a list, what came and went."""
    word = _WORDS.get(change.field, change.field)
    before, after = change.before, change.after
    if change.field in ("parts", "wires", "runs", "grommets", "cautions", "flags") and isinstance(
            before, tuple) and isinstance(after, tuple):
        gone = [name for name in before if name not in after]
        new = [name for name in after if name not in before]
        return f"{word}: " + " ".join([*(f"+{n}" for n in new), *(f"-{n}" for n in gone)])
    if change.field == "ends" and isinstance(before, tuple) and isinstance(after, tuple):
        left = [end for end in before if end not in after]
        right = [end for end in after if end not in before]
        if len(left) == len(right) == 1:
            return f"end {end_name(left[0])} -> {end_name(right[0])}"
    return f"{word}: {value_text(change.field, before)} -> {value_text(change.field, after)}"


def thing_text(group: str, name: str, vehicle: Vehicle) -> str:
    """Return a thing in a few words: name, kind, label, place; or a wire's ends and looks."""
    if group == "part":
        part = vehicle.parts[name]
        where = f" in {part.place}" if part.place else ""
        where += f" slot {part.slot}" if part.slot else ""
        label = f' "{part.label}"' if part.label else ""
        return f"{name} {part.kind.name}{label}{where}"
    if group == "wire":
        wire = vehicle.wires[name]
        looks = " ".join(p for p in (
            wire.area_text, wire.colour,
            f"{wire.length_m:.2f} m" if wire.length_m is not None else "") if p)
        own = name.partition("#")[0] == f"{wire.a}-{wire.b}"
        return f"{'' if own else name + ' '}{wire.a} to {wire.b}  {looks}".rstrip()
    things: Any = {"place": vehicle.places, "run": vehicle.runs, "cable": vehicle.cables,
                   "circuit": vehicle.circuits, "condition": vehicle.conditions,
                   "conductor": vehicle.conductors}.get(group, {})
    label = things[name].label if name in things else ""
    return f'{name} "{label}"' if label else name


def difference_text(difference: Difference, before: Vehicle, after: Vehicle) -> list[str]:
    """Return one difference as lines, the first with its sign."""
    sign = SIGNS[difference.sort]
    if difference.sort == "removed":
        return [f"{sign} {thing_text(difference.group, difference.before, before)}"]
    head = thing_text(difference.group, difference.after, after)
    if difference.sort == "added":
        return [f"{sign} {head}"]
    if difference.group == "vehicle":
        head = after.name or "vehicle"
    old = f", before: {difference.before}" if difference.is_renamed else ""
    lines = [f"{sign} {head}{old}"]
    return lines + [f"    {change_text(change)}" for change in difference.changes]


def comparison_text(comparison: Comparison, before: Vehicle, after: Vehicle) -> Iterator[str]:
    """Yield the report line by line."""
    if not comparison:
        yield "no difference"
        return
    yield LEGEND
    for group in GROUPS:
        found = comparison.of_group(group)
        if not found:
            continue
        counts = [f"{count} {sort}" for sort in SIGNS
                  if (count := sum(d.sort == sort for d in found))]
        yield ""
        yield f"{TITLES[group]}: {', '.join(counts)}"
        for difference in found:
            for line in difference_text(difference, before, after):
                yield f"  {line}"


def comparison_data(comparison: Comparison, before: Vehicle, after: Vehicle) -> dict[str, Any]:
    """Return the comparison as plain data; the keys are stable."""

    def plain(value: Any) -> Any:
        if value == MISSING:
            return None
        return [plain(item) for item in value] if isinstance(value, tuple) else value

    def title(vehicle: Vehicle) -> dict[str, str]:
        return {"name": vehicle.name, "build": vehicle.build, "year": vehicle.year}

    return {
        "before": title(before), "after": title(after),
        "differences": [
            {"group": d.group, "sort": d.sort, "before": d.before or None, "after": d.after or None,
             "changes": [{"field": c.field, "before": plain(c.before), "after": plain(c.after)}
                         for c in d.changes]}
            for d in comparison.differences],
        "renamed": {group: {a: b for a, b in pairs.items() if a != b}
                    for group, pairs in comparison.names.items()
                    if group not in ("wire", "acceptance") and any(a != b
                                                                    for a, b in pairs.items())},
    }
