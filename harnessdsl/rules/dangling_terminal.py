"""A terminal that needs a wire and has none.

What
    A part has wires, but none on one of the terminals that it needs to work: the end of a fuse, a
    load, a coil or a battery, a module's supply or earth pin, a pin that the file itself defines,
    the input of a switch or relay whose output is used, or the only way through a switch. Unused
    outputs of switches and relays, tap points and terminals inside a part are not meant.

Why
    The wire is missing, or ends on another terminal than was meant.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES, SOURCE_TYPES, Primitive, Side
from harnessdsl.model.topology import terminal_node
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_ALWAYS_NEEDED = LOAD_TYPES | PROTECTION_TYPES | SOURCE_TYPES | {
    "coil", "diode", "thermistor", "inductor"}
_OPTIONAL_FAMILIES = ("unknown", "antenna", "connector", "splice", "earth")


@rule("dangling-terminal", Severity.WARNING)
def dangling_terminal(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if (part.name not in context.wired_parts or "spare" in part.flags
                or part.family in _OPTIONAL_FAMILIES or part.kind.any_terminals):
            continue
        for terminal in part.kind.terminals.values():
            node = terminal_node(part.name, terminal.name)
            if node in context.wired or terminal.role == "inner":
                continue
            if terminal.case and part.conductor:
                continue
            if _is_needed(context, part, terminal.name):
                label = f" ({terminal.label})" if terminal.label else ""
                yield Diagnostic(
                    Severity.WARNING, "dangling-terminal",
                    f"nothing is connected to {node}{label} of {part_words(part)}"
                    if not terminal.case else
                    f"the case {node} of {part_words(part)} is on no metal and has no wire",
                    part.name_span,
                    f"write its wire, for example: wire {node} -> ..." if not terminal.case else
                    "say what it sits on: on body, on engine", subject=part.name)


def _is_needed(context: RuleContext, part: Part, name: str) -> bool:
    terminal = part.kind.terminals[name]
    if terminal.role in ("supply", "earth"):
        return True
    # a bar inside joins terminals: one wire on any of them is enough
    joined = _joined_inside(part, name)
    if any(terminal_node(part.name, other) in context.wired or (
            part.kind.terminals[other].case and part.conductor)
           for other in joined if other != name and other in part.kind.terminals):
        return False
    if terminal.role and _is_own_pin(context, part, name):
        return True
    at = [p for p in part.kind.primitives if name in (p.a, p.b)]
    if part.family == "ignition" and name == "4":
        return context.once(_high_voltage_is_written)
    for primitive in at:
        if primitive.type in _ALWAYS_NEEDED and "electronic" not in primitive.flags and (
                part.family != "alternator" or primitive.type in SOURCE_TYPES):
            if _is_unused_pole(context, part, name, primitive):
                continue
            return True
    if at and all(p.type == "resistor" for p in at) and len(at) == 1 and (
            "electronic" not in at[0].flags and part.family in ("resistor", "sender")):
        return _other_wired(context, part, at[0], name)
    contacts = [p for p in at if p.type == "contact"]
    ends = [part.kind.terminals.get(p.b if p.a == name else p.a) for p in contacts]
    if any(end is not None and end.role == "inner" for end in ends):
        return True  # the load inside hangs on it
    if terminal.side is Side.UPPER or name == "31":
        return any(_is_used(context, part, p.b if p.a == name else p.a) for p in contacts)
    return bool(contacts) and _is_dead_switch(context, part, name)


def _is_used(context: RuleContext, part: Part, name: str) -> bool:
    """Say whether a terminal has a wire, sits on metal or lies inside."""
    terminal = part.kind.terminals.get(name)
    return terminal_node(part.name, name) in context.wired or (
        terminal is not None and (terminal.role == "inner" or (
            terminal.case and bool(part.conductor))))


def _high_voltage_is_written(context: RuleContext) -> bool:
    """Say whether the file has ignition leads at all: many leave them away."""
    parts = context.vehicle.parts
    return any(end.terminal == "4" and parts[end.part].family == "ignition"
               for wire in context.vehicle.wires.values() for end in (wire.a, wire.b))


def _joined_inside(part: Part, name: str) -> set[str]:
    found = {name}
    queue = [name]
    for here in queue:
        for primitive in part.kind.primitives:
            if primitive.type == "joint" and here in (primitive.a, primitive.b):
                far = primitive.b if here == primitive.a else primitive.a
                if far not in found:
                    found.add(far)
                    queue.append(far)
    return found


def _is_own_pin(context: RuleContext, part: Part, name: str) -> bool:
    """Say whether the part's own block defines the pin, so that it is known to be used."""
    kind = context.vehicle.kinds.get(part.kind.name)
    return kind is None or name not in kind.terminals


def _other_wired(context: RuleContext, part: Part, primitive: Primitive, name: str) -> bool:
    return _is_used(context, part, primitive.b if name == primitive.a else primitive.a)


def _is_unused_pole(context: RuleContext, part: Part, name: str, primitive: Primitive) -> bool:
    """Say whether neither end of a primitive is used while the part has others: an unused half."""
    other = primitive.b if name == primitive.a else primitive.a
    return len(part.kind.primitives) > 1 and not _other_wired(context, part, primitive, name) and (
        terminal_node(part.name, other) not in context.wired)


def _is_dead_switch(context: RuleContext, part: Part, name: str) -> bool:
    """Say whether a switch or relay has no contact with wires at both ends, so that this terminal
    is what it lacks."""
    wired = {t for t in part.kind.terminals if _is_used(context, part, t)}
    contacts = [p for p in part.kind.primitives if p.type == "contact"]
    if any(p.a in wired and p.b in wired for p in contacts):
        return False
    return any((p.a == name and p.b in wired) or (p.b == name and p.a in wired) for p in contacts)
