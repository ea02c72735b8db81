"""Plans the sheets of a vehicle: what each one draws and what it refers to."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.sheet_plan import (
    Hint,
    PageKey,
    PageSpec,
    PartUse,
    PlacedStrand,
    Plan,
    Role,
    SheetPlan,
    StrandEnd,
    circuit_pages,
    is_point,
)
from harnessdsl.drawing.strand_assignment import (
    Planner,
    assign_strands,
    faces_earth,
    favourite,
)
from harnessdsl.drawing.strands import Strand, in_line
from harnessdsl.drawing.wiring import Wiring
from harnessdsl.model.topology import terminal_node


def plan_sheets(wiring: Wiring, pages: Sequence[PageSpec] | None = None) -> Plan:
    """Return the plan of all sheets, by circuit unless `pages` says otherwise (the last page takes
    what no other one lists)."""
    if pages is None:
        pages = circuit_pages(wiring.vehicle)
    planner = Planner(wiring, pages[-1].key)
    for page in pages:
        for name in dict.fromkeys(page.parts):
            planner.listed.setdefault(name, []).append(page)
    sheet_of = assign_strands(planner)
    seen = _appearances(planner, sheet_of)
    sheets = [_sheet(planner, sheet_of, seen, page) for page in pages]
    last = sheets[-1]
    if len(sheets) > 1 and not (last.parts or last.strands or last.idle):
        sheets.pop()
    return Plan(wiring, tuple(sheets))


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


def _appearances(planner: Planner, sheet_of: Sequence[PageKey]) -> _Appearances:
    strands_on: dict[str, Counter[PageKey]] = {}
    total: Counter[str] = Counter()
    for strand, sheet in zip(planner.strung.strands, sheet_of, strict=True):
        for node in (strand.a, strand.b):
            strands_on.setdefault(node, Counter())[sheet] += 1
            total[node] += 1
    home: dict[str, PageKey] = {}
    for node, counter in strands_on.items():
        drawn_on = planner.homes(node)
        best = favourite(counter)
        if not drawn_on or best in drawn_on:
            home[node] = best
        else:
            home[node] = next((sheet for sheet in drawn_on if counter[sheet]), drawn_on[0])
    return _Appearances(strands_on, home, total)


def _sheet(
    planner: Planner, sheet_of: Sequence[PageKey], seen: _Appearances, page: PageSpec
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
            for node in planner.wiring.wired.get(use.part, ())
            if node in seen.home
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
    hung = Counter(
        end.node for p in placed for end in (p.a, p.b) if end.role in (Role.PIN, Role.JUNCTION)
    )
    for node in dict.fromkeys(shown):
        line = planner.wiring.line_of.get(node, "")
        if line:
            # a line is met on every sheet: only a terminal whose wires to it are drawn
            # elsewhere, or as wires of other terminals, says that it is on it
            if node not in on_line and (not hung[node] or hung[node] < seen.total[node]):
                hints.append(Hint(node, line=line))
        elif node in seen.home and (sheets := seen.others(node, key)):
            hints.append(Hint(node, sheets))
    idle = tuple(
        part.name
        for part in vehicle.parts.values()
        if is_point(part)
        and (planner.listings(part.name) or [planner.last])[0] == key
        and part.name not in planner.wiring.wired
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


def _parts_here(planner: Planner, seen: _Appearances, page: PageSpec) -> list[PartUse]:
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
        wired = planner.wiring.wired.get(name, ())

        def on(sheet: PageKey, name: str = name, wired: tuple[str, ...] = wired) -> set[str]:
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
    planner: Planner, seen: _Appearances, strand: Strand, drawn: set[str], key: PageKey
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
        if several:
            return StrandEnd(Role.JUNCTION, node)
        return StrandEnd(Role.REFERENCE, node, home=seen.home[node])

    a, b = end(strand.a), end(strand.b)
    line = planner.wiring.line_of.get(strand.a, "")
    earthed = Role.EARTH in (a.role, b.role)
    if line and not earthed:
        at_line = (StrandEnd(Role.LINE, strand.a, line), StrandEnd(Role.LINE, strand.b, line))
        if a.role is Role.PIN and b.role is Role.PIN:
            a_lower, b_lower = (faces_earth(planner, node) for node in (strand.a, strand.b))
            feeds = [node for found in planner.wiring.lines for node in found.feeders]
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
