"""What if: faults by their names or by what is done to a thing, and what then happens.

A fault may be there only when it is hot, or only when the vehicle moves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.electric.elements import Element, Resistance
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case_reader import point_node
from harnessdsl.faults.circumstances import fits_when
from harnessdsl.faults.effects import WORDS, Effect
from harnessdsl.faults.exact import solve_faulty
from harnessdsl.faults.fault import Fault
from harnessdsl.faults.modes import SHORT_OHM
from harnessdsl.faults.step_text import condition_text, named

BY_DEED: dict[str, tuple[str, ...]] = {
    "open": ("wire-open", "filament-open", "coil-open", "earth-lifted", "load-open", "motor-worn",
             "solenoid-open", "resistor-open", "diode-open", "sender-open", "fuse-blown",
             "link-open", "contact-open", "thermal-stuck-open", "output-dead", "module-dead",
             "input-dead", "alternator-dead", "plug-pulled"),
    "pull": ("plug-pulled", "fuse-blown", "link-open", "earth-lifted"),
    "corrode": ("wire-corroded", "plug-corroded", "earth-corroded", "fuse-contact",
                "contact-burnt"),
    "weld": ("contact-welded", "thermal-stuck-closed"),
    "never-close": ("contact-open", "thermal-stuck-open"),
    "turns": ("coil-short",),
    "blow": ("fuse-blown", "link-open"),
    "seize": ("motor-seized",),
    "wear": ("motor-weak", "contact-burnt"),
    "shift": ("thermal-shifted",),
    "wrong": ("wrong-relay",),
    "kill": ("module-dead", "output-dead", "input-dead", "alternator-dead", "load-open"),
    "flatten": ("battery-low",),
}
"""What one does to a thing -> the ways to fail that it means, the first that the thing has."""


class Unknown(ValueError):
    """A fault that can't be found: says what to write instead."""


def by_deed(bench: Bench, deed: str, name: str) -> list[Fault]:
    """Return the faults of a deed (those of BY_DEED, short, touch, stick) at a thing: all of the
    first way to fail that it has. Raises Unknown."""
    vehicle = bench.vehicle
    if deed == "short":
        return [_short(bench, name)]
    if deed == "touch":
        return [_touch(bench, name)]
    if deed == "stick":
        part, equals, position = name.partition("=")
        owner, _, actuator = part.partition(".")
        mine = [f for f in bench.faults if f.mode == "switch-stuck" and f.part == owner]
        found = [f for f in mine if f.id.endswith(
            f":{actuator}={position}" if actuator else f"={position}")]
        if not equals or not found:
            offered = [f"{f.part}.{f.id.rpartition(':')[2]}".replace(".main=", "=") for f in mine]
            raise Unknown(f"'{name}' is no position of a switch; "
                          + (f"write one of: {', '.join(offered)}" if offered else
                             "write PART=POSITION, such as S1=run"))
        return found[:1]
    name, _, word = name.partition("=")
    subject, _, pin = name.partition(".")
    whole = [f for f in bench.faults if f.subject in (name, subject)
             or f.wire == name or f.wire.startswith(f"{name}:")]
    for mode in BY_DEED[deed]:
        found = [f for f in whole if f.mode == mode]
        if mode == "thermal-shifted":
            found = [f for f in found if f.words.endswith(word or "late")]
        if pin and mode.startswith("plug"):
            cavity = pin.rpartition(".")[2]
            found = [f for f in found if f.id.endswith(f":{cavity}")]
        elif pin and mode.endswith("-dead"):
            found = [f for f in found if f.id.endswith(f"-{pin}")]
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
    wire = next((f for f in bench.faults if f.mode == "wire-short" and (
        f.wire == name or f.wire.startswith(f"{name}:"))), None)
    if wire is not None:
        return wire
    node = _node(bench, name)
    chafe = Element(f"chafe:{node}", node, bench.assembled.circuit.reference,
                    Resistance(SHORT_OHM), "chafe")
    return Fault(f"short:{node}", "wire-short", f"{name}: short to metal",
                 part=node.partition(".")[0], added=(chafe,))


def _touch(bench: Bench, name: str) -> Fault:
    """Two points, or two wires, that touch."""
    one, equals, other = name.partition("=")
    if not equals or not other:
        raise Unknown(f"'{name}' names no two things; write A=B, such as W31=W32 or X5.1=X5.2")
    a, b = (_node(bench, n) for n in (one, other))
    if a == b:
        raise Unknown(f"{one} and {other} are one point anyway")
    bridge = Element(f"bridge:{a}={b}", a, b, Resistance(SHORT_OHM), "chafe")
    return Fault(f"touch:{a}={b}", "wires-touch", f"{one} and {other} touch",
                 part=a.partition(".")[0], added=(bridge,))


def _node(bench: Bench, name: str) -> str:
    """Return the node of a point, or of a wire's first end. Raises Unknown."""
    vehicle = bench.vehicle
    wire = vehicle.wires.get(name) or vehicle.wires.get(f"{name}:1")
    node, wrong = (wire.a.node, "") if wire is not None else point_node(vehicle, name)
    if wrong:
        raise Unknown(wrong)
    if node not in bench.assembled.circuit.node_index:
        raise Unknown(f"nothing is joined to '{name}' in this file")
    return node


def by_id(bench: Bench, name: str) -> Fault:
    """Return the fault with this id; raises Unknown."""
    for fault in bench.faults:
        if fault.id == name:
            return fault
    raise Unknown(f"there is no fault '{name}'; "
                  + (did_you_mean(name, [f.id for f in bench.faults]) or
                     "'--list WORD' shows the ids"))


@dataclass(frozen=True, slots=True)
class Outcome:
    """One condition with the faults in the vehicle."""

    number: int
    """Of the condition in the bench."""
    point: OperatingPoint
    effect: Effect
    there: bool = True
    """Whether the fault is there in this condition."""
    blown: tuple[str, ...] = ()
    """Ids of fuses that were blown before."""


def outcomes_of(bench: Bench, faults: Sequence[Fault]) -> list[Outcome]:
    """Return what the faults do together in every condition, each with sound fuses to begin with,
    computed with the whole network."""
    return _outcomes(bench, faults, ())


def as_found(bench: Bench, faults: Sequence[Fault], outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Return the same with the fuses gone that any condition blows, for conditions where that makes
    a difference: so the car stands when one comes to look at it."""
    elements = bench.assembled.circuit.elements
    index = bench.assembled.circuit.element_index
    blown = tuple(dict.fromkeys(
        name for one in outcomes for name in one.effect.opened
        if elements[index[name]].role in ("fuse", "link")))
    if not blown:
        return []
    found = []
    for before, after in zip(outcomes, _outcomes(bench, faults, blown), strict=True):
        if (before.effect.states, before.effect.moved) != (after.effect.states,
                                                           after.effect.moved):
            found.append(after)
    return found


def _outcomes(bench: Bench, faults: Sequence[Fault], blown: tuple[str, ...]) -> list[Outcome]:
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    found = []
    for number, condition in enumerate(bench.conditions):
        here = [f for f in faults if fits_when(condition, f.only_when)]
        point = solve_faulty(bench.assembled, here, [condition], healthy,
                             dict.fromkeys(blown, "blown"))[0] if here or blown else (
            bench.points[number])
        found.append(Outcome(number, point, bench.effect_of_point(number, point, blown),
                             bool(here), blown))
    return found


def only_when(faults: Sequence[Fault], when: str) -> list[Fault]:
    """Return the faults as ones that are there only when it is `hot`, or only when `moving`."""
    words = {"hot": "only when hot", "moving": "only when moving"}[when]
    return [replace(f, only_when=when, words=f"{f.words} ({words})") for f in faults]


def outcome_lines(bench: Bench, faults: Sequence[Fault], outcomes: Sequence[Outcome]
                  ) -> Iterator[str]:
    """Yield what happens in each condition, then how the car is found once fuses are blown."""
    yield from effect_lines(bench, outcomes)
    found = as_found(bench, faults, outcomes)
    if found:
        elements = bench.assembled.circuit.elements
        index = bench.assembled.circuit.element_index
        names = dict.fromkeys(elements[index[n]].part for n in found[0].blown)
        yield ""
        yield "as one finds the car, with " + " and ".join(
            named(bench.vehicle, n) for n in names) + " blown:"
        yield from effect_lines(bench, found)


def load_words(bench: Bench, effect: Effect) -> list[tuple[str, int, str]]:
    """Return (part, number of the load, what it does) of every load that is not as in the sound
    car."""
    elements = bench.assembled.circuit.elements
    found = []
    for number in sorted(effect.states):
        element = elements[bench.ports.loads[number]]
        word = WORDS[effect.states[number]]
        if word == "dim" and element.role == "motor":
            word = "slow"
        found.append((element.part, number, word))
    return found


def effect_lines(bench: Bench, outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Yield what dies, glows, stays on and blows, condition by condition."""
    same: list[str] = []
    absent: list[str] = []
    elements = bench.assembled.circuit.elements
    index = bench.assembled.circuit.element_index
    for outcome in outcomes:
        condition, effect = bench.conditions[outcome.number], outcome.effect
        if not outcome.there and not outcome.blown:
            absent.append(condition.name)
            continue
        if effect.failed:
            yield f"{condition.name}: no answer: the computation did not come to an end"
            continue
        if not (effect.states or effect.opened or effect.chattering or effect.moved):
            same.append(condition.name)
            continue
        yield f"{condition.name}: {condition_text(bench.vehicle, condition.name)}"
        for name in effect.opened:
            yield f"  blows: {named(bench.vehicle, elements[index[name]].part)}"
        by_word: dict[str, list[str]] = {}
        for part, number, word in load_words(bench, effect):
            name = elements[bench.ports.loads[number]].name
            by_word.setdefault(word, []).append(
                named(bench.vehicle, part) + (f" '{name}'" if name else ""))
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
    if absent:
        yield f"the fault is not there: {', '.join(absent)}"
