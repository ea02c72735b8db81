"""What is drawn on which sheet: parts, strands, and how each strand ends there.

One sheet for each circuit, in the order of the file, and a last one for what is in no circuit.
Every strand is on exactly one sheet; where its far end is drawn on another, it ends at a
reference, and the other sheet refers back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum

from harnessdsl.drawing.strands import Strand, Strands, in_line, string_wires
from harnessdsl.drawing.supply_lines import SupplyLine, find_supply_lines
from harnessdsl.model.topology import Topology, build_topology, terminal_node
from harnessdsl.model.vehicle import Part, Vehicle

PageKey = tuple[int, ...]
"""Which circuit, and which piece of it: keys sort in the order of the sheets."""


class Role(Enum):
    """How a strand ends on its sheet."""

    PIN = "pin"
    """At a terminal of a part that is drawn on this sheet."""
    JUNCTION = "junction"
    """At a point of its own: a splice, a cavity with several wires, a far terminal."""
    LINE = "line"
    """At a supply line."""
    EARTH = "earth"
    REFERENCE = "reference"
    """At a mark that says where it goes on."""
    LOOSE = "loose"


@dataclass(frozen=True, slots=True)
class StrandEnd:
    role: Role
    node: str
    line: str = ""
    """The supply line's name, for Role.LINE."""


@dataclass(frozen=True, slots=True)
class PlacedStrand:
    """A strand on its sheet; `a` is how its first end is drawn, `b` its last."""

    strand: Strand
    a: StrandEnd
    b: StrandEnd


@dataclass(frozen=True, slots=True)
class Hint:
    """A mark without a wire at `node`: where else it is drawn, or the line that it feeds."""

    node: str
    sheets: tuple[PageKey, ...] = ()
    line: str = ""


@dataclass(frozen=True, slots=True)
class PartUse:
    """A part on a sheet, with the terminals that are drawn there (None: all)."""

    part: str
    terminals: frozenset[str] | None
    split: bool
    elsewhere: tuple[PageKey, ...] = ()
    """The other sheets that draw a piece of it."""


@dataclass(frozen=True, slots=True)
class PageSpec:
    """What is wanted on one page: the parts of a circuit, or some of them when it is too large
    for one page."""

    key: PageKey
    circuit: str
    """'' for what is not assigned."""
    title: str
    parts: tuple[str, ...]
    terminals: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """For a part that is too large for a page: the terminals shown on this one."""


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """One sheet before it is laid out."""

    key: PageKey
    circuit: str
    title: str
    parts: tuple[PartUse, ...]
    strands: tuple[PlacedStrand, ...]
    hints: tuple[Hint, ...]
    junctions: tuple[str, ...]
    """Nodes drawn as a point with at least one strand."""
    idle: tuple[str, ...] = ()
    """Connectors, splices and earth points that no wire reaches."""


@dataclass(frozen=True, slots=True)
class Plan:
    """All sheets, and what they have in common."""

    vehicle: Vehicle
    topology: Topology
    sheets: tuple[SheetPlan, ...]
    lines: tuple[SupplyLine, ...]
    line_of: Mapping[str, str]
    """Node -> the supply line that it belongs to."""
    part_of: Mapping[str, str]
    potential: Mapping[str, float]
    """Node -> 0 next to the supply ... 1 next to earth: where it belongs on a sheet."""
    home: Mapping[str, PageKey]
    """Node -> the sheet that references to it point to."""


UNASSIGNED_TITLE = "Not yet assigned to a circuit"


def is_point(part: Part | None) -> bool:
    """Whether a part has no symbol of its own but is drawn on the wires."""
    return part is not None and (part.family in ("splice", "earth") or in_line(part))


@dataclass(slots=True)
class _Planner:
    vehicle: Vehicle
    topology: Topology
    strung: Strands
    lines: tuple[SupplyLine, ...]
    line_of: dict[str, str]
    listed: dict[str, list[PageSpec]] = field(default_factory=dict)
    """Part -> the pages that list it."""
    last: PageKey = ()
    """The page for what is in no circuit."""
    wired: dict[str, list[str]] = field(default_factory=dict)
    """Part -> its nodes that a wire ends on."""

    def part_at(self, node: str) -> Part | None:
        return self.vehicle.parts.get(self.strung.part_of.get(node, ""))

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


def circuit_pages(vehicle: Vehicle) -> list[PageSpec]:
    """Return one page for each circuit of the file and one for all that is in none."""
    pages = [
        PageSpec((index,), circuit.name, circuit.label or circuit.name, circuit.parts)
        for index, circuit in enumerate(vehicle.circuits.values())
    ]
    listed = {name for circuit in vehicle.circuits.values() for name in circuit.parts}
    rest = tuple(name for name in vehicle.parts if name not in listed)
    title = UNASSIGNED_TITLE if pages else vehicle.name or "Wiring"
    return [*pages, PageSpec((len(pages),), "", title, rest)]


def plan_sheets(vehicle: Vehicle, pages: Sequence[PageSpec] | None = None) -> Plan:
    """Return the plan of all sheets of `vehicle`, by circuit unless `pages` says otherwise (the
    last page takes what no other one lists)."""
    if pages is None:
        pages = circuit_pages(vehicle)
    topology = build_topology(vehicle)
    strung = string_wires(vehicle)
    lines = find_supply_lines(topology)
    line_of = {node: line.name for line in lines for node in sorted(line.nodes)}
    planner = _Planner(vehicle, topology, strung, lines, line_of, last=pages[-1].key)
    for page in pages:
        for name in dict.fromkeys(page.parts):
            planner.listed.setdefault(name, []).append(page)
    for node, name in strung.part_of.items():
        planner.wired.setdefault(name, []).append(node)
    sheet_of = _assign(planner)
    seen = _appearances(planner, sheet_of)
    sheets = [_sheet(planner, sheet_of, seen, page) for page in pages]
    last = sheets[-1]
    if len(sheets) > 1 and not (last.parts or last.strands or last.idle):
        sheets.pop()
    return Plan(
        vehicle,
        topology,
        tuple(sheets),
        lines,
        line_of,
        strung.part_of,
        _potential(topology, line_of),
        seen.home,
    )


def _assign(planner: _Planner) -> list[PageKey]:
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
                    spread.setdefault(there, Counter())[_favourite(own)] += 1
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


def _strap_sheets(planner: _Planner, nodes: list[str]) -> list[PageKey]:
    """Return where a wire from metal to metal belongs: where its earth points are listed, else
    beside the battery, else nowhere yet."""
    for name in (planner.strung.part_of[node] for node in nodes):
        if planner.listings(name):
            return planner.listings(name)
    for part in planner.vehicle.parts.values():
        if part.family == "battery" and planner.listings(part.name):
            return planner.listings(part.name)
    return [planner.last]


def _favourite(counter: Counter[PageKey]) -> PageKey:
    """Return the sheet with most votes, the first one of several."""
    return min(counter, key=lambda sheet: (-counter[sheet], sheet))


def _is_splice(planner: _Planner, node: str) -> bool:
    part = planner.part_at(node)
    return part is not None and is_point(part) and part.family != "earth"


def _consumer_side(
    planner: _Planner, strand: Strand, a: list[PageKey], b: list[PageKey]
) -> PageKey:
    """Return the sheet of the end that the current comes to: the other one is the feeding part,
    which may have many such wires."""
    a_lower, b_lower = (_faces_earth(planner, node) for node in (strand.a, strand.b))
    if a_lower != b_lower:
        return b[0] if a_lower else a[0]
    return max(a[0], b[0]) if max(a[0], b[0]) != planner.last else min(a[0], b[0])


def _faces_earth(planner: _Planner, node: str) -> bool:
    part = planner.part_at(node)
    if part is None:
        return False
    terminal = part.kind.terminal(node[len(part.name) + 1 :])
    return terminal is not None and terminal.side == "lower"


def _potential(topology: Topology, line_of: Mapping[str, str]) -> dict[str, float]:
    """Return how far each node is from the supply, as a share of its way to earth."""

    def distances(starts: Iterable[str]) -> dict[str, int]:
        found = dict.fromkeys(starts, 0)
        queue = list(found)
        for node in queue:
            for edge in topology.edges_at.get(node, ()):
                far = edge.other(node)
                if far not in found and not far.startswith("@"):
                    found[far] = found[node] + 1
                    queue.append(far)
        return found

    parts = topology.vehicle.parts
    supply = distances(node for node in topology.nodes if node in line_of)
    earth = distances(
        node
        for node in topology.nodes
        if node in topology.part_of
        and topology.part_of[node] in parts
        and parts[topology.part_of[node]].family == "earth"
    )
    far = 1 + max([*supply.values(), *earth.values()], default=0)
    return {
        node: (supply.get(node, far) + 0.5) / (supply.get(node, far) + earth.get(node, far) + 1)
        for node in topology.nodes
    }


@dataclass(slots=True)
class _Appearances:
    """Where each node has strands, and the sheet that it belongs to."""

    strands_on: dict[str, Counter[PageKey]]
    home: dict[str, PageKey]
    total: Counter[str]

    def others(self, node: str, key: PageKey) -> tuple[PageKey, ...]:
        """Return the sheets that a mark at `node` on sheet `key` refers to."""
        if self.home[node] != key:
            return (self.home[node],)
        return tuple(sheet for sheet in sorted(self.strands_on[node]) if sheet != key)


def _appearances(planner: _Planner, sheet_of: Sequence[PageKey]) -> _Appearances:
    strands_on: dict[str, Counter[PageKey]] = {}
    total: Counter[str] = Counter()
    for strand, sheet in zip(planner.strung.strands, sheet_of, strict=True):
        for node in (strand.a, strand.b):
            strands_on.setdefault(node, Counter())[sheet] += 1
            total[node] += 1
    home: dict[str, PageKey] = {}
    for node, counter in strands_on.items():
        drawn_on = planner.homes(node)
        best = _favourite(counter)
        if not drawn_on or best in drawn_on:
            home[node] = best
        else:
            home[node] = next((sheet for sheet in drawn_on if counter[sheet]), drawn_on[0])
    return _Appearances(strands_on, home, total)


def _sheet(
    planner: _Planner, sheet_of: Sequence[PageKey], seen: _Appearances, page: PageSpec
) -> SheetPlan:
    """Return the plan of one sheet."""
    vehicle = planner.vehicle
    key = page.key
    parts = _parts_here(planner, seen, page)
    drawn = {use.part for use in parts}
    strands = [s for s, sheet in zip(planner.strung.strands, sheet_of, strict=True) if sheet == key]
    placed = [_place(planner, seen, strand, drawn, key) for strand in strands]
    junctions = dict.fromkeys(
        end.node for p in placed for end in (p.a, p.b) if end.role is Role.JUNCTION
    )
    shown = [*junctions]
    for use in parts:
        kind = vehicle.parts[use.part].kind
        names = list(kind.terminals)
        names += [t for t in sorted(use.terminals or ()) if t not in kind.terminals]
        names += [
            node[len(use.part) + 1 :]
            for node in seen.home
            if planner.strung.part_of.get(node) == use.part
        ]
        shown += [
            terminal_node(use.part, name)
            for name in dict.fromkeys(names)
            if use.terminals is None or name in use.terminals
        ]
    hints: list[Hint] = []
    on_line = {
        one.node for p in placed for one, other in ((p.a, p.b), (p.b, p.a))
        if other.role is Role.LINE
    }  # fmt: skip
    for node in dict.fromkeys(shown):
        line = planner.line_of.get(node, "")
        if line:
            # a line is met on every sheet: only a terminal whose wires to it are drawn
            # elsewhere says that it is on it
            here = seen.strands_on[node][key] if node in seen.home else 0
            if node not in on_line and (not here or here < seen.total[node]):
                hints.append(Hint(node, line=line))
        elif node in seen.home and (sheets := seen.others(node, key)):
            hints.append(Hint(node, sheets))
    idle = tuple(
        part.name
        for part in vehicle.parts.values()
        if is_point(part)
        and (planner.listings(part.name) or [planner.last])[0] == key
        and part.name not in planner.wired
    )
    return SheetPlan(
        key,
        page.circuit,
        page.title,
        tuple(parts),
        tuple(placed),
        tuple(hints),
        tuple(junctions),
        idle,
    )


def _parts_here(planner: _Planner, seen: _Appearances, page: PageSpec) -> list[PartUse]:
    """Return the parts that have a symbol on a sheet, in the order of the circuit."""
    uses: list[PartUse] = []
    for name in dict.fromkeys(page.parts):
        part = planner.vehicle.parts.get(name)
        if part is None or is_point(part):
            continue
        homes = planner.listings(name) or [planner.last]
        if len(homes) == 1:
            uses.append(PartUse(name, None, False))
            continue
        wired = planner.wired.get(name, [])

        def on(sheet: PageKey, name: str = name, wired: list[str] = wired) -> set[str]:
            """The terminals that belong on a sheet for their wires."""
            return {
                node[len(name) + 1 :]
                for node in wired
                if sheet in planner.homes(node)
                and (seen.strands_on[node][sheet] or seen.home[node] == sheet)
            }

        wanted = on(page.key)
        if name in page.terminals:
            wanted |= page.terminals[name]
            uses.append(PartUse(name, frozenset(wanted), False))
            continue
        first = next((sheet for sheet in homes if on(sheet)), homes[0])
        if page.key == first:
            everywhere = {node[len(name) + 1 :] for node in wired}
            wanted |= {terminal for terminal in part.kind.terminals if terminal not in everywhere}
        elif not wanted:
            continue
        elsewhere = tuple(s for s in homes if s != page.key and (on(s) or s == first))
        uses.append(PartUse(name, frozenset(wanted), part.family == "relay", elsewhere))
    return uses


def _place(
    planner: _Planner, seen: _Appearances, strand: Strand, drawn: set[str], key: PageKey
) -> PlacedStrand:
    """Return how the two ends of a strand are drawn on the sheet."""

    def end(node: str) -> StrandEnd:
        part = planner.part_at(node)
        if part is not None and part.family == "earth":
            return StrandEnd(Role.EARTH, node)
        if part is not None and not is_point(part):
            if part.name in drawn:
                return StrandEnd(Role.PIN, node)
        elif seen.total[node] == 1 and in_line(part):
            return StrandEnd(Role.LOOSE, node)
        elif seen.total[node] == 1 or seen.home[node] == key:
            return StrandEnd(Role.JUNCTION, node)
        several = seen.strands_on[node][key] > 1
        return StrandEnd(Role.JUNCTION if several else Role.REFERENCE, node)

    a, b = end(strand.a), end(strand.b)
    line = planner.line_of.get(strand.a, "")
    earthed = Role.EARTH in (a.role, b.role)
    if line and not earthed:
        at_line = (StrandEnd(Role.LINE, strand.a, line), StrandEnd(Role.LINE, strand.b, line))
        if a.role is Role.PIN and b.role is Role.PIN:
            a_lower, b_lower = (_faces_earth(planner, node) for node in (strand.a, strand.b))
            feeds = [node for found in planner.lines for node in found.feeders]
            if a_lower or b_lower or strand.a == strand.b:
                pass  # drawn as the wire that it is
            elif strand.b in feeds:
                b = at_line[1]
            else:
                a = at_line[0]
        elif a.role is Role.PIN or b.role is Role.LOOSE:
            b = at_line[1] if a.role is Role.PIN else b
            a = a if a.role is Role.PIN else at_line[0]
        else:
            a = at_line[0]
    hosts = (Role.PIN, Role.JUNCTION)
    if a.role not in hosts and b.role not in hosts:
        # nothing to hang it on: the end that says least becomes a point
        if a.role is Role.LINE or (a.role is Role.REFERENCE and b.role is not Role.LINE):
            b = StrandEnd(Role.JUNCTION, b.node)
        else:
            a = StrandEnd(Role.JUNCTION, a.node)
    return PlacedStrand(strand, a, b)
