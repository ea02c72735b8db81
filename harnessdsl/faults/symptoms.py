"""The reverse table: for every symptom of a load, and for every fuse that blows, the faults that
explain it, the likeliest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.faults.effects import WORDS
from harnessdsl.faults.step_text import named
from harnessdsl.faults.sweep import Sweep


@dataclass(frozen=True, slots=True)
class Symptom:
    """One load that does the wrong thing, and what may be behind it."""

    part: str
    load: str
    """Name of the load within the part, where it has several."""
    word: str
    conditions: tuple[str, ...]
    """The conditions in which it shows, of the likeliest cause."""
    causes: tuple[tuple[str, float, str], ...]
    """(fault in words, chance given this symptom alone, fuses that it blows)."""


def find_symptoms(sweep: Sweep, most_causes: int = 12) -> list[Symptom]:
    """Return every symptom of a load, in the order of the file, then every fuse that blows."""
    bench = sweep.bench
    elements = bench.assembled.circuit.elements
    table: dict[tuple[int, int], dict[int, list[int]]] = {}
    for number, row in enumerate(sweep.found):
        for condition, effect in enumerate(row):
            for load, state in effect.states.items():
                table.setdefault((load, state), {}).setdefault(number, []).append(condition)
    found = []
    for load, state in sorted(table):
        causes = table[load, state]
        total = sum(bench.faults[i].likelihood for i in causes)
        ranked = sorted(causes, key=lambda i: (-bench.faults[i].likelihood, i))
        element = elements[bench.ports.loads[load]]
        word = WORDS[state]
        if word == "dim" and element.role == "motor":
            word = "slow"
        listed = tuple((bench.faults[i].words, bench.faults[i].likelihood / total,
                        ", ".join(dict.fromkeys(
                            elements[bench.assembled.circuit.element_index[n]].part
                            for n in sweep.blown[i]))) for i in ranked[:most_causes])
        found.append(Symptom(element.part, element.name, word,
                             tuple(bench.conditions[c].name for c in causes[ranked[0]]), listed))
    return [*found, *_blown_fuses(sweep, most_causes)]


def _blown_fuses(sweep: Sweep, most_causes: int) -> list[Symptom]:
    """Return the fuses and links that are found blown, with what blows them."""
    bench = sweep.bench
    circuit = bench.assembled.circuit
    found = []
    for port in bench.ports.protection:
        element = circuit.elements[port]
        causes = [i for i, names in enumerate(sweep.blown) if element.id in names]
        if not causes:
            continue
        total = sum(bench.faults[i].likelihood for i in causes)
        ranked = sorted(causes, key=lambda i: (-bench.faults[i].likelihood, i))
        seen = [c.name for n, c in enumerate(bench.conditions)
                if element.id in sweep.fresh[ranked[0]][n].opened]
        listed = tuple((bench.faults[i].words, bench.faults[i].likelihood / total, "")
                       for i in ranked[:most_causes])
        found.append(Symptom(element.part, "", "blown", tuple(seen), listed))
    return found


def symptom_lines(sweep: Sweep, part: str = "", most_causes: int = 12) -> Iterator[str]:
    """Yield the table as text, of one part or of all."""
    vehicle = sweep.bench.vehicle
    for symptom in find_symptoms(sweep, most_causes):
        if part and symptom.part != part:
            continue
        name = f" '{symptom.load}'" if symptom.load else ""
        yield (f"{named(vehicle, symptom.part)}{name}: {symptom.word}   "
               f"(seen in: {', '.join(symptom.conditions[:4])}"
               + (", ..." if len(symptom.conditions) > 4 else "") + ")")
        for words, share, blown in symptom.causes:
            yield f"  {share:6.1%}  {words}" + (f"  [blows {blown}]" if blown else "")
        yield ""
