"""What if: faults by their names or by what is done to a thing, and what then dies, glows, stays on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.electric.elements import Element, Resistance
from harnessdsl.faults.case_reader import point_node
from harnessdsl.faults.exact import solve_faulty
from harnessdsl.faults.modes import SHORT_OHM, Fault
from harnessdsl.faults.step_text import condition_text, named
from harnessdsl.faults.sweep import WORDS, Bench, Effect

BY_DEED: dict[str, tuple[str, ...]] = {
    "open": ("wire-open", "filament-open", "coil-open", "earth-lifted", "load-open", "motor-worn",
             "solenoid-open", "resistor-open", "diode-open", "sender-open", "contact-open",
             "thermal-stuck-open", "output-dead", "module-dead", "alternator-dead", "plug-pulled"),
    "pull": ("plug-pulled", "fuse-blown", "link-open", "earth-lifted"),
    "corrode": ("wire-corroded", "plug-corroded", "earth-corroded", "fuse-contact",
                "contact-burnt"),
    "weld": ("contact-welded", "thermal-stuck-closed"),
    "blow": ("fuse-blown", "link-open"),
    "seize": ("motor-seized",),
    "flatten": ("battery-low",),
}
"""What one does to a thing -> the ways to fail that it means."""


class Unknown(ValueError):
    """A fault that can't be found: says what to write instead."""


def by_deed(bench: Bench, deed: str, name: str) -> list[Fault]:
    """Return the faults of `deed` (open, short, pull, corrode, weld, blow, seize, flatten, stick)
    at a thing: all of the first way to fail that it has. Raises Unknown."""
    vehicle = bench.vehicle
    if deed == "short":
        return [_short(bench, name)]
    if deed == "stick":
        part, equals, position = name.partition("=")
        found = [f for f in bench.faults if f.mode == "switch-stuck" and f.part == part.split(".")[0]
                 and f.id.rpartition("=")[2] == position]
        if not equals or not found:
            offered = [f"{f.part}={f.id.rpartition('=')[2]}" for f in bench.faults
                       if f.mode == "switch-stuck" and f.part == part.split(".")[0]]
            raise Unknown(f"'{name}' is no position of a switch; "
                          + (f"write one of: {', '.join(offered)}" if offered else
                             "write PART=POSITION, such as S1=run"))
        return found[:1]
    subject, _, pin = name.partition(".")
    whole = [f for f in bench.faults if f.subject in (name, subject)
             or f.wire == name or f.wire.startswith(f"{name}:")]
    for mode in BY_DEED[deed]:
        found = [f for f in whole if f.mode == mode]
        if pin and mode.startswith("plug"):
            cavity = pin.rpartition(".")[2]
            found = [f for f in found if f.id.endswith(f":{cavity}")]
        if found:
            return found
    if pin and deed == "open":
        found = [f for f in whole if f.mode == "plug-open" and f.id.endswith(f":{pin}")]
        if found:
            return found
    known = [*vehicle.parts, *vehicle.wires]
    hint = did_you_mean(name, known) if name not in known else None
    modes = sorted({f.mode for f in whole})
    raise Unknown(f"there is nothing to {deed} at '{name}'" + (
        f"; it can fail so: {', '.join(modes)}" if modes else f"; {hint}" if hint else ""))


def _short(bench: Bench, name: str) -> Fault:
    """A short to metal of a point or of a wire."""
    wire = next((f for f in bench.faults if f.mode == "wire-short" and f.wire == name), None)
    if wire is not None:
        return wire
    node, wrong = point_node(bench.vehicle, name)
    if wrong:
        raise Unknown(wrong)
    chafe = Element(f"chafe:{node}", node, bench.assembled.circuit.reference,
                    Resistance(SHORT_OHM), "chafe")
    return Fault(f"short:{node}", "wire-short", f"{name}: short to metal", added=(chafe,))


def by_id(bench: Bench, name: str) -> Fault:
    """Return the fault with this id; raises Unknown."""
    for fault in bench.faults:
        if fault.id == name:
            return fault
    raise Unknown(f"there is no fault '{name}'; "
                  + (did_you_mean(name, [f.id for f in bench.faults]) or
                     "'--list WORD' shows the ids"))


def effects_of(bench: Bench, faults: Sequence[Fault]) -> list[Effect]:
    """Return what the faults do together in every condition, computed with the whole network."""
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    points = solve_faulty(bench.assembled, faults, bench.conditions, healthy)
    return [bench.effect_of_point(number, point) for number, point in enumerate(points)]


def effect_lines(bench: Bench, effects: Sequence[Effect]) -> Iterator[str]:
    """Yield what dies, glows, stays on and blows, condition by condition."""
    same: list[str] = []
    elements = bench.assembled.circuit.elements
    index = bench.assembled.circuit.element_index
    for condition, effect in zip(bench.conditions, effects, strict=True):
        if effect.failed:
            yield f"{condition.name}: no answer: the computation did not come to an end"
            continue
        if not effect.states and not effect.opened and not effect.chattering:
            same.append(condition.name)
            continue
        yield f"{condition.name}: {condition_text(bench.vehicle, condition.name)}"
        for name in effect.opened:
            yield f"  blows: {named(bench.vehicle, elements[index[name]].part)}"
        by_word: dict[str, list[str]] = {}
        for number in sorted(effect.states):
            element = elements[bench.ports.loads[number]]
            title = named(bench.vehicle, element.part) + (f" '{element.name}'" if element.name
                                                          else "")
            word = WORDS[effect.states[number]]
            if word == "dim" and element.role == "motor":
                word = "slow"
            by_word.setdefault(word, []).append(title)
        for word in ("dead", "dim", "slow", "stays on", "glows", "works", "off"):
            if word in by_word:
                yield f"  {word}: {'; '.join(by_word[word])}"
        moved = [f"{named(bench.vehicle, elements[bench.ports.coils[n]].part)} "
                 f"{'pulled in' if on else 'not pulled in'}" for n, on in effect.moved.items()]
        if effect.chattering:
            yield "  a relay buzzes: it takes away its own supply"
        if moved:
            yield f"  relays: {'; '.join(moved)}"
    if same:
        yield f"as in the sound car: {', '.join(same)}"
