"""Which wire is to blame, and the vehicle without it.

One wire on a wrong terminal can join circuits all over a vehicle. To name that wire and not its
consequences, each suspect is taken out in thought: the one without which the fault is gone and the
most still works is named, and further rules look at the vehicle without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.joins import Join, Way, joins
from harnessdsl.rules.analysis.service import Trouble, services
from harnessdsl.rules.analysis.shorts import shorts
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.analysis.tracing import (
    earth_end,
    joins_outputs,
    route,
    wire_meeting_earth,
    wires_of,
)
from harnessdsl.rules.analysis.unfused import Unfused, unfused
from harnessdsl.rules.context import RuleContext

MAX_SUSPECTS = 24
MAX_FAULTS = 30


def without(context: RuleContext, wires: Iterable[Wire]) -> RuleContext:
    """Return the context of the vehicle without some wires; the same one when there are none."""
    names = {wire.name for wire in wires}
    if not names:
        return context
    left = {name: wire for name, wire in context.vehicle.wires.items() if name not in names}
    return RuleContext(replace(context.vehicle, wires=left))


def troubles(context: RuleContext) -> int:
    """Return how many loads can't work."""
    return sum(service.trouble is not Trouble.NONE for service in context.once(services))


def culprit(context: RuleContext, suspects: Sequence[Wire],
            left: Callable[[RuleContext], int | None]) -> Wire | None:
    """Return the suspect to blame, or None. `left` says how many faults of the kind are left in a
    context, None when the very fault is still there. Of equals, that one is taken after which the
    colours make the most sense, then one that joins two outputs, then the first suspect."""
    earth_colours = context.once(colours_of_earth)
    best: tuple[int, int, bool, int] | None = None
    chosen: Wire | None = None
    for order, wire in enumerate(list(dict.fromkeys(suspects))[:MAX_SUSPECTS]):
        trial = without(context, [wire])
        remaining = left(trial)
        if remaining is None:
            continue
        score = (2 * remaining + troubles(trial), colours_amiss(trial, earth_colours),
                 not joins_outputs(context, wire), order)
        if best is None or score < best:
            best, chosen = score, wire
    return chosen


def colours_of_earth(context: RuleContext) -> frozenset[str]:
    """Return the base colours that this vehicle uses for its earths: those of at least a quarter of
    the wires on earth points."""
    counts: dict[str, int] = {}
    for wire in context.vehicle.wires.values():
        if wire.colour and any(context.vehicle.parts[end.part].family == "earth"
                               for end in (wire.a, wire.b)):
            base = wire.colour.partition("/")[0]
            counts[base] = counts.get(base, 0) + 1
    total = sum(counts.values())
    return frozenset(base for base, count in counts.items() if count * 4 >= total)


def colours_amiss(context: RuleContext, earth_colours: frozenset[str]) -> int:
    """Return how many wires have an earth's colour and are live, or a feed's colour and are on
    earth, and how many more colours than one each line has. Colour is advice, never a fact, so this
    only decides between equals."""
    supply, count = context.supply, 0
    colours: dict[int, set[str]] = {}
    for wire in context.vehicle.wires.values():
        if wire.colour:
            net = context.nets.of[wire.a.node]
            on_earth = net in supply.earth_nets
            is_earthy = wire.colour.partition("/")[0] in earth_colours
            count += (is_earthy and supply.fed(net)) or (not is_earthy and on_earth)
            if not on_earth:
                colours.setdefault(net, set()).add(wire.colour)
    return count + sum(len(found) - 1 for found in colours.values())


@dataclass(frozen=True, slots=True)
class Short:
    """A short, the way there, and the wire that makes it."""

    condition_words: str
    edges: tuple[Edge, ...]
    end: str
    wire: Wire | None


def blamed_shorts(context: RuleContext) -> tuple[tuple[Short, ...], RuleContext]:
    """Return the shorts with their culprits, and the context without the wires that make them."""
    found: list[Short] = []
    current = context
    named: set[str] = set()
    for _ in range(MAX_FAULTS):
        open_shorts = [s for s in current.once(shorts) if _short_key(current, s) not in named]
        if not open_shorts:
            break
        entry = open_shorts[0]
        key = _short_key(current, entry)
        end = earth_end(current, entry)
        edges = route(current, entry, end)

        def left(trial: RuleContext, key: str = key) -> int | None:
            now = trial.once(shorts)
            return None if any(_short_key(trial, s) == key for s in now) else len(now)

        likely = wire_meeting_earth(current, edges, end)
        from_earth = wires_of(edges)[::-1]
        wire = culprit(current, from_earth if likely is None else [likely, *from_earth], left)
        found.append(Short(current.states.describe(entry.condition), tuple(edges), end, wire))
        named.add(key)
        if wire is not None:
            current = without(current, [wire])
    return tuple(found), current


def _short_key(context: RuleContext, entry: Entry) -> str:
    """Return what tells one short from another: where it leaves the live side."""
    links = [link.edge for link in entry.links]
    return " ".join(f"{edge.a}-{edge.b}" for edge in links) or context.nets.members[entry.net][0]


def free_of_shorts(context: RuleContext) -> RuleContext:
    """Return the context without the wires that make shorts."""
    return context.once(blamed_shorts)[1]


def free_of_bypasses(context: RuleContext) -> RuleContext:
    """Return the context without those wires, and without those that pass a fuse by."""
    sound = free_of_shorts(context)
    found: tuple[Unfused, ...] = sound.once(unfused)
    return without(sound, [each.wire for each in found if each.wire is not None and each.spare])


def blamed_joins(context: RuleContext) -> tuple[tuple[tuple[Join, Wire | None], ...], RuleContext]:
    """Return the joins of supplies with their culprits, and the context without these wires."""
    found: list[tuple[Join, Wire | None]] = []
    current = context.once(free_of_bypasses)
    named: set[tuple[str, str, str, str]] = set()
    for _ in range(MAX_FAULTS):
        open_joins = [join for join in current.once(joins) if join.key not in named]
        if not open_joins:
            break
        open_joins.sort(key=lambda join: list(Way).index(join.way))
        join = open_joins[0]

        def left(trial: RuleContext, join: Join = join) -> int | None:
            now = trial.once(joins)
            return None if any(other.key == join.key for other in now) else len(now)

        suspects = [*join.wires, *(w for other in open_joins[1:] for w in other.wires)]
        wire = culprit(current, suspects, left)
        found.append((join, wire))
        named.add(join.key)
        if wire is not None:
            current = without(current, [wire])
    return tuple(found), current


def free_of_faults(context: RuleContext) -> RuleContext:
    """Return the context without any wire that is blamed for a short, a bypass or a join: what is
    wrong there is wrong on its own account."""
    return context.once(blamed_joins)[1]
