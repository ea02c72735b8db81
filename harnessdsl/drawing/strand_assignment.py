"""Which sheet each strand is drawn on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from harnessdsl.drawing.sheet_plan import PageKey, PageSpec, is_point
from harnessdsl.drawing.strands import Strand, Strands
from harnessdsl.drawing.wiring import Wiring
from harnessdsl.model.vehicle import Part, Vehicle


@dataclass(slots=True)
class Planner:
    """The wiring, and which pages list which part."""

    wiring: Wiring
    last: PageKey
    """The page for what is in no circuit."""
    listed: dict[str, list[PageSpec]] = field(default_factory=dict)
    """Part -> the pages that list it."""

    @property
    def vehicle(self) -> Vehicle:
        return self.wiring.vehicle

    @property
    def strung(self) -> Strands:
        return self.wiring.strung

    def part_at(self, node: str) -> Part | None:
        return self.wiring.part_at(node)

    def homes(self, node: str) -> list[PageKey]:
        """Return the sheets on which the node's part has a symbol; [] for points."""
        part = self.part_at(node)
        if part is None or is_point(part):
            return []
        terminal = node[len(part.name) + 1 :]
        return [
            page.key
            for page in self.listed.get(part.name, ())
            if terminal in page.terminals.get(part.name, (terminal,))
        ] or [self.last]

    def listings(self, part: str) -> list[PageKey]:
        return [page.key for page in self.listed.get(part, ())]


def assign_strands(planner: Planner) -> list[PageKey]:
    """Return the sheet of each strand."""
    strands = planner.strung.strands
    votes: dict[str, Counter[PageKey]] = {}

    def listed_point(node: str) -> list[PageKey]:
        """Pages that name the splice or plug itself."""
        part = planner.part_at(node)
        if part is None or not is_point(part) or part.family == "earth":
            return []
        return planner.listings(part.name)

    chosen: list[PageKey | None] = [None] * len(strands)
    for index, strand in enumerate(strands):
        a, b = planner.homes(strand.a), planner.homes(strand.b)
        if a and b:
            common = [sheet for sheet in a if sheet in b]
            if common:
                chosen[index] = common[0]
            else:
                chosen[index] = _consumer_side(planner, strand, a, b)
        elif len(a or b) == 1:
            chosen[index] = (a or b)[0]
        for near, far in ((a, strand.b), (b, strand.a)):
            if not planner.homes(far):
                for sheet in near:
                    votes.setdefault(far, Counter())[sheet] += max(1, 12 // len(near))
    for _ in range(3):  # splice to splice: what the neighbours say, a few steps far
        spread: dict[str, Counter[PageKey]] = {}
        for strand in strands:
            if not (_is_splice(planner, strand.a) and _is_splice(planner, strand.b)):
                continue
            for here, there in ((strand.a, strand.b), (strand.b, strand.a)):
                if own := votes.get(here):
                    spread.setdefault(there, Counter())[favourite(own)] += 1
        for node, counter in spread.items():
            votes.setdefault(node, Counter()).update(counter)
    for index, strand in enumerate(strands):
        if chosen[index] is not None:
            continue
        known = planner.homes(strand.a) or planner.homes(strand.b)
        ends = [node for node in (strand.a, strand.b) if not planner.homes(node)]
        tally: Counter[PageKey] = Counter()
        for node in ends:
            for sheet in listed_point(node):
                tally[sheet] += 100
            if planner.part_at(node) is None or _is_splice(planner, node):
                tally.update(votes.get(node, Counter()))
        candidates = known or sorted(tally) or _strap_sheets(planner, ends)
        chosen[index] = max(candidates, key=lambda sheet: (tally[sheet], -candidates.index(sheet)))
    return [sheet for sheet in chosen if sheet is not None]


def _strap_sheets(planner: Planner, nodes: list[str]) -> list[PageKey]:
    """Return where a wire from metal to metal belongs: where its earth points are listed, else
    beside the battery, else nowhere yet."""
    for name in (planner.strung.part_of[node] for node in nodes):
        if planner.listings(name):
            return planner.listings(name)
    for part in planner.vehicle.parts.values():
        if part.family == "battery" and planner.listings(part.name):
            return planner.listings(part.name)
    return [planner.last]


def favourite(counter: Counter[PageKey]) -> PageKey:
    """Return the sheet with most votes, the first one of several."""
    return min(counter, key=lambda sheet: (-counter[sheet], sheet))


def _is_splice(planner: Planner, node: str) -> bool:
    part = planner.part_at(node)
    return part is not None and is_point(part) and part.family != "earth"


def _consumer_side(planner: Planner, strand: Strand, a: list[PageKey], b: list[PageKey]) -> PageKey:
    """Return the sheet of the end that the current comes to: the other one is the feeding part,
    which may have many such wires."""
    a_lower, b_lower = (faces_earth(planner, node) for node in (strand.a, strand.b))
    if a_lower != b_lower:
        return b[0] if a_lower else a[0]
    return max(a[0], b[0]) if max(a[0], b[0]) != planner.last else min(a[0], b[0])


def faces_earth(planner: Planner, node: str) -> bool:
    part = planner.part_at(node)
    if part is None:
        return False
    terminal = part.kind.terminal(node[len(part.name) + 1 :])
    return terminal is not None and terminal.side == "lower"
