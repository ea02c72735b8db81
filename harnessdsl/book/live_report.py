"""What is on, what flows and what is odd in one condition, as text and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from harnessdsl.electric.operating_point import LoadState, OperatingPoint
from harnessdsl.electric.stray_current import oriented_loads
from harnessdsl.model.vehicle import Condition, Part, Vehicle

CAUTION = ("Computed from what the file says, with healthy joints and typical figures where it "
           "says nothing: measure before you rely on it. The maker's data go first.")
_SHOWN = {"on": "on", "weak": "weak", "trace": "a trace"}


def volts(value: float) -> str:
    return f"{value:.2f} V"


def amperes(value: float) -> str:
    """Return `4.22 A`, `12.3 mA` below a tenth of an ampere."""
    return f"{value * 1000:.1f} mA" if abs(value) < 0.0995 else f"{value:.2f} A"


def load_name(vehicle: Vehicle, load: LoadState) -> str:
    """Return the part and, where it has several loads, which."""
    kind = vehicle.parts[load.part].kind
    several = sum(p.type == load.role or bool(p.name) for p in kind.primitives) > 1
    return f"{load.part} {load.name}" if load.name and several else load.part


def table(rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset()) -> list[str]:
    """Return rows as aligned text; columns in `right` are flush right."""
    if not rows:
        return []
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(cell.rjust(w) if i in right else cell.ljust(w)
                  for i, (cell, w) in enumerate(zip(row, widths, strict=True))).rstrip()
        for row in rows]


def shown_loads(point: OperatingPoint) -> list[LoadState]:
    """Return the loads that do something, down to a glow."""
    return [load for load in point.loads if load.state != "off"]


def live_lines(vehicle: Vehicle, condition: Condition, point: OperatingPoint,
               everything: bool = False, circuit: str = "") -> list[str]:
    """Return the report of one condition. `everything` lists what is off too."""
    label = condition.label and condition.label != condition.name
    lines = [f"{condition.name}" + (f": {condition.label}" if label else "")]
    lines += _supply_lines(vehicle, point)
    members = set(vehicle.circuits[circuit].parts) if circuit else None
    loads = [load for load in (point.loads if everything else shown_loads(point))
             if members is None or load.part in members]
    lines += ["", f"{len(loads)} {'load' if len(loads) == 1 else 'loads'}"
              + ("" if everything else " on")]
    rows = [["", "", "volts", "amperes", "watts", ""]] if loads else []
    backwards = _backwards(vehicle, point)
    for load in loads:
        state = _state(load) + (", backwards" if load.id in backwards and load.state != "off"
                                else "")
        rows.append([
            load_name(vehicle, load), vehicle.parts[load.part].label, f"{abs(load.voltage_v):.2f}",
            f"{abs(load.current_a):.3f}", f"{load.power_w:.1f}", state])
    lines += table(rows, frozenset({2, 3, 4}))
    lines += _relay_lines(vehicle, point, members, everything)
    lines += _fuse_lines(vehicle, point, members, everything)
    warnings = point.warnings()
    if warnings:
        lines += ["", "mind:"]
        lines += [f"  {warning.message}" for warning in warnings]
    if point.network.assumptions:
        lines += ["", "assumed, as the file does not say:"]
        lines += [f"  {text}" for text in point.network.assumptions[:8]]
        if len(point.network.assumptions) > 8:
            lines.append(f"  ... and {len(point.network.assumptions) - 8} more")
    return lines


def _backwards(vehicle: Vehicle, point: OperatingPoint) -> frozenset[str]:
    """Return the loads whose current runs from their earth end to their supply end."""
    ends = oriented_loads(vehicle, point.network.circuit.elements)
    return frozenset(
        name for name, (live, earth) in ends.items()
        if abs(point.voltage_v(earth)) > abs(point.voltage_v(live)) + 0.05)


def _state(load: LoadState) -> str:
    words = _SHOWN.get(load.state, "")
    if load.speed_share is not None and load.on:
        words += f", {load.speed_share:.0%} of its speed" if load.speed_share else ", stands still"
    return words


def _supply_lines(vehicle: Vehicle, point: OperatingPoint) -> list[str]:
    lines = []
    for element in point.network.circuit.elements:
        if element.role not in ("source", "alternator"):
            continue
        part = vehicle.parts[element.part]
        current_a = -point.current_a(element.id)
        if element.role == "source":
            does = (f"gives {amperes(current_a)}" if current_a > 5e-4 else
                    f"takes {amperes(-current_a)}" if current_a < -5e-4 else "gives nothing")
        elif not point.closed(element.id) and abs(current_a) < 1e-6:
            continue
        else:
            does = f"gives {amperes(current_a)}"
        lines.append(f"{part.name} ({part.label}) stands at {volts(point.across_v(element.id))}, "
                     f"{does}")
    return lines


def _relay_lines(vehicle: Vehicle, point: OperatingPoint, members: set[str] | None,
                 everything: bool) -> list[str]:
    rows = []
    for relay in point.relays:
        if members is not None and relay.part not in members:
            continue
        chatters = relay.id in point.chattering
        if everything or relay.energised or chatters:
            name = f"{relay.part} {relay.name}".strip()
            state = "chatters" if chatters else "pulled in" if relay.energised else "let go"
            rows.append([name, vehicle.parts[relay.part].label, state,
                         f"coil {amperes(abs(relay.current_a))}"])
    return ["", "relays:", *table(rows)] if rows else []


def _fuse_lines(vehicle: Vehicle, point: OperatingPoint, members: set[str] | None,
                everything: bool) -> list[str]:
    rows = []
    for fuse in point.fuses:
        if members is not None and fuse.part not in members:
            continue
        if everything or fuse.opened or abs(fuse.current_a) > 5e-3:
            share = ("opened" if fuse.opened else f"{fuse.share:.0%}" if fuse.rating_a else "")
            rows.append([fuse.part, vehicle.parts[fuse.part].label, f"{fuse.rating_a:g} A",
                         amperes(abs(fuse.current_a)), share])
    return ["", "fuses:", *table(rows, frozenset({2, 3, 4}))] if rows else []


MARKS = {"on": "#", "weak": "+", "trace": ".", "off": ""}


def matrix_lines(vehicle: Vehicle, points: Mapping[str, OperatingPoint], circuit: str = ""
                 ) -> list[str]:
    """Return loads against conditions: `#` on, `+` weak, `.` a trace; loads never on last."""
    names = list(points)
    lines = [f"{i:>3}  {name}" + (f": {vehicle.conditions[name].label}" if name in
             vehicle.conditions and vehicle.conditions[name].label else "")
             for i, name in enumerate(names, 1)]
    states: dict[str, list[str]] = {}
    shown: dict[str, LoadState] = {}
    for name in names:
        for load in points[name].loads:
            states.setdefault(load.id, []).append(MARKS[load.state])
            shown.setdefault(load.id, load)
    members = set(vehicle.circuits[circuit].parts) if circuit else None
    rows = [["", "", *(str(i) for i in range(1, len(names) + 1))]]
    never = []
    for key, marks in states.items():
        load = shown[key]
        if members is not None and load.part not in members:
            continue
        if any(marks):
            rows.append([load_name(vehicle, load), vehicle.parts[load.part].label[:28], *marks])
        else:
            never.append(load_name(vehicle, load))
    lines += ["", "# on   + weak   . a trace", "",
              *table(rows, frozenset(range(2, len(names) + 2)))]
    if never:
        lines += ["", f"never on in these conditions: {', '.join(never)}"]
    odd = [f"{name}: {w.message}" for name in names for w in points[name].warnings(False)]
    return [*lines, *(["", "mind:", *(f"  {text}" for text in odd)] if odd else [])]


def point_data(vehicle: Vehicle, condition: Condition, point: OperatingPoint) -> dict[str, Any]:
    """Return one condition as plain data; the keys are stable."""

    def part(name: str) -> Part:
        return vehicle.parts[name]

    return {
        "condition": condition.name,
        "label": condition.label,
        "failure": point.failure or None,
        "loads": [{"id": x.id, "part": x.part, "name": x.name, "label": part(x.part).label,
                   "state": x.state, "voltage_v": _plain(x.voltage_v),
                   "current_a": _plain(x.current_a), "power_w": _plain(x.power_w),
                   "rated_power_w": _plain(x.rated_power_w)} for x in point.loads],
        "relays": [{"id": x.id, "part": x.part, "energised": x.energised,
                    "chattering": x.id in point.chattering,
                    "coil_current_a": _plain(x.current_a)} for x in point.relays],
        "fuses": [{"id": x.id, "part": x.part, "rating_a": x.rating_a,
                   "current_a": _plain(x.current_a), "share": _plain(x.share),
                   "opened": x.opened, "why": point.opened.get(x.id)} for x in point.fuses],
        "floating": list(point.floating_nodes),
        "warnings": [{"code": w.code, "subject": w.subject, "message": w.message}
                     for w in point.warnings()],
        "assumptions": list(point.network.assumptions),
    }


def _plain(value: float) -> float:
    """Return a figure to a millionth, without a negative zero."""
    return round(value, 6) + 0.0
