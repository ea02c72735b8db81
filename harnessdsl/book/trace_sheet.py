"""The sheet of checks to take to the car, and the lines that its results become."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from harnessdsl.book.answer import chain_of_places, named
from harnessdsl.exchange.wire_list import quoted
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.plans.trace_order import Step, TracePlanner

CAUTIONS = (
    "Disconnect the battery's earth lead first; an ohmmeter on a live wire reads nonsense and may "
    "burn.",
    "Do not probe airbag or belt-tensioner wiring: that is for licensed hands and the maker's "
    "instructions.",
    "Unplug control modules on the wire before measuring; probe from the back of a plug, do not "
    "spread its contacts.",
)


def _point(vehicle: Vehicle, planner: TracePlanner, node: str) -> str:
    part_name = planner.topology.part_of[node]
    part = vehicle.parts[part_name]
    pin = node[len(part_name) + 1 :]
    wires = [edge.wire for edge in planner.topology.edges_at[node] if edge.wire is not None]
    colours = "/".join(dict.fromkeys(
        wire.colour.replace("/", "-") for wire in wires if wire.colour))
    return f"{named(vehicle, part_name)}{', ' + pin if pin else ''}" + (
        f" [{colours}]" if colours else "") + (f", {part.place}" if part.place else "")


def sheet_lines(vehicle: Vehicle, planner: TracePlanner, steps: Sequence[Step]) -> list[str]:
    """Return the checks with boxes to tick, places opened in between, expected readings."""
    total = len(vehicle.wires)
    sure = total - len(planner.open_wires)
    lines = [f"What to trace next: {vehicle.name}".rstrip(": "),
             f"{sure} of {total} wires are verified now.", *(f"! {text}" for text in CAUTIONS)]
    minutes = 0.0
    for number, step in enumerate(steps, 1):
        for place in step.opens:
            chain = chain_of_places(vehicle, place)
            reach = "; ".join(s.text for p in chain for s in p.reach)
            lines.append(f"open {vehicle.places[place].label or place} ({place})"
                         + (f": {reach}" if reach else ""))
            lines += [f"  ! {caution}" for p in chain for caution in p.cautions]
        minutes += step.minutes
        sure += len(step.gains)
        lines.append(f"[ ] {number:>3}. {_point(vehicle, planner, step.check.a)}")
        lines.append(f"     to   {_point(vehicle, planner, step.check.b)}")
        over = f", over {', '.join(step.check.over)}" if step.check.over else ""
        most_ohm = max(1.0, step.check.expected_ohm)
        lines.append(f"     reads under {most_ohm:.1f} ohm when sound{over}"
                     f"   verifies {', '.join(step.gains)}")
        lines.append(f"     {minutes:.0f} min so far, {sure} wires verified   reading: ________")
    if not steps:
        lines.append("Nothing is left to trace with a meter.")
    return lines


def result_lines(planner: TracePlanner, results: Iterable[tuple[Step, bool]], date: str, by: str
                 ) -> list[str]:
    """Return `verified` and `refuted` lines for checks that passed or failed."""
    tail = (f" {date}" if date else "") + (f" by {quoted(by)}" if by else "")
    lines = []
    for step, passed in results:
        if passed:
            lines.append(f"verified {' '.join(step.gains)} measured{tail}")
        else:
            note = quoted(f"no continuity {step.check.a} to {step.check.b}")
            lines.append(f"refuted {' '.join(step.gains)} {note}{tail}")
    return lines
