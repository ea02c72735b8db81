"""Every fault in every condition: what each load does, which fuse blows, what any point reads.

Fuses that a fault blows stay blown: the car is found as the fault left it. `fresh` tells what
happens with sound fuses in each condition, `found` how the car stands when one comes to look at
it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from harnessdsl.faults.bench import ROWS, Bench
from harnessdsl.faults.changes import Answer
from harnessdsl.faults.effects import SAME, Effect

KEEP_NODES = 4000
"""Above this size a condition's factors are not kept for later questions."""

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Sweep:
    """All single faults of a vehicle in all its conditions."""

    bench: Bench
    fresh: list[list[Effect]]
    """By fault, then condition: with every fuse sound to begin with."""
    found: list[list[Effect]]
    """The same with the fuses blown that the fault blows in any condition."""
    blown: list[tuple[str, ...]]
    """By fault: protection that it blows in some condition (breakers, which reset, are not
    here)."""
    failures: list[tuple[int, int, str]] = field(default_factory=list)
    """(fault, condition, why): what no way of computing answered."""


def _is_lasting(bench: Bench, name: str) -> bool:
    elements = bench.assembled.circuit
    index = elements.element_index.get(name)
    return index is not None and elements.elements[index].role in ("fuse", "link")


def _chunks(rows: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(rows), ROWS):
        yield rows[first:first + ROWS]


def run_sweep(bench: Bench, progress: Progress | None = None) -> Sweep:
    """Return the effect of every fault in every condition."""
    keep = bench.ports.nodes < KEEP_NODES
    count, conditions = len(bench.faults), len(bench.conditions)
    fresh: list[list[Effect]] = [[SAME] * conditions for _ in range(count)]
    failures: list[tuple[int, int, str]] = []
    total = 2 * conditions
    for number in range(conditions):
        for rows in _chunks(range(count)):
            answers = bench.solve(number, [((bench.faults[i],), ()) for i in rows], keep)
            _effects(bench, number, answers, rows, fresh, None, failures)
        bench.forget(number, keep)
        if progress is not None:
            progress(number + 1, total)
    blown = [tuple(dict.fromkeys(name for effect in row for name in effect.opened
                                 if _is_lasting(bench, name))) for row in fresh]
    found = [list(row) for row in fresh]
    again = [i for i, names in enumerate(blown) if names]
    for number in range(conditions):
        todo = [i for i in again if set(blown[i]) - set(fresh[i][number].opened)]
        for rows in _chunks(todo):
            answers = bench.solve(number, [((bench.faults[i],), blown[i]) for i in rows], keep)
            _effects(bench, number, answers, rows, found, blown, failures)
        bench.forget(number, keep)
        if progress is not None:
            progress(conditions + number + 1, total)
    for i in again:
        found[i] = [replace(e, opened=tuple(n for n in e.opened if n not in blown[i]))
                    for e in found[i]]
    return Sweep(bench, fresh, found, blown, failures)


def _effects(bench: Bench, number: int, answers: Sequence[Answer], rows: Sequence[int],
             into: list[list[Effect]], blown: Sequence[tuple[str, ...]] | None,
             failures: list[tuple[int, int, str]]) -> None:
    effects = bench.effects(number, answers)
    for row, answer, effect in zip(rows, answers, effects, strict=True):
        if answer.failed:
            point = bench.whole([bench.faults[row]], number, blown[row] if blown else ())
            if point.failure:
                failures.append((row, number, point.failure))
            into[row][number] = bench.effect_of_point(number, point, blown[row] if blown else ())
        else:
            into[row][number] = effect
