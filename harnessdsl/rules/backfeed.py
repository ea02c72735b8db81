"""Two supplies joined behind their fuses or switches.

What
    Current can run the wrong way into a supply line that should be dead, or two supply lines are
    one without meaning to:

    - the outputs of two fuses are joined;
    - a wire joins the outputs of two switches or relays, each with loads of its own;
    - in some position a closed contact or a fuse is fed from behind, and loads on its other side
      come on that should be off;
    - a load lies between two supplies and has no way to earth of its own.

    A diode between the two ends the finding. So does a relay between two batteries, which is how
    split charging is done. A tell-tale lamp between the two sides of the turn lamps is no fault.

Why
    Pulling the fuse or turning the key no longer makes the circuit dead, the wire is protected by
    the sum of two fuses, and things run that nobody switched on.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Horn"  15 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Horn push"
    lamp E5 "Work lamp"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire G1.+ -> F2.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire F2.2 -> S2.1  1.5 mm2 RD/BK
    wire F1.2 -> F2.2  1.5 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire S2.2 -> H1.+  1.5 mm2 BK/YE
    wire E5.2 -> E1  1 mm2 BN
    wire H1.- -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Horn"  15 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Horn push"
    lamp E5 "Work lamp"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire G1.+ -> F2.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire F2.2 -> S2.1  1.5 mm2 RD/BK
    wire S1.2 -> E5.1  1 mm2 GY
    wire S2.2 -> H1.+  1.5 mm2 BK/YE
    wire E5.2 -> E1  1 mm2 BN
    wire H1.- -> E1  1.5 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import Side
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.dominance import nets_always_passed
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.analysis.service import Trouble, services
from harnessdsl.rules.analysis.simulation import Settled
from harnessdsl.rules.analysis.supply import Entry, is_protection, live_without
from harnessdsl.rules.analysis.tracing import side_without, wire_on_net_between
from harnessdsl.rules.analysis.wording import listed, part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@dataclass(frozen=True, slots=True)
class Feed:
    """A fuse or contact through which a net is fed from another net that does not need it."""

    link: Link
    net: int
    """The net that is fed."""
    origin: int

    @property
    def node(self) -> str:
        """The terminal on the fed net."""
        return self.link.edge.b if self.link.b == self.net else self.link.edge.a

    @property
    def part(self) -> str:
        return self.link.edge.part

    @property
    def is_fuse(self) -> bool:
        return is_protection(self.link.edge)


@rule("backfeed", Severity.ERROR)
def backfeed(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    named: set[str] = set()
    for finding in _all(context):
        if finding.subject + str(finding.span) not in named:
            named.add(finding.subject + str(finding.span))
            yield finding


def _all(context: RuleContext) -> Iterator[Diagnostic]:
    supply = context.supply
    passed = nets_always_passed(supply)
    for net, ways in enumerate(supply.earth_ways):
        # earth_ways lead into a net from where the supply may come: contacts and fuses both ways
        if not supply.fed(net) or net in supply.live_nets:
            continue
        feeds = [
            Feed(way.link, net, way.far) for way in ways
            if way.link.edge.part and (is_protection(way.link.edge)
                                       or way.link.edge.type == "contact")
            and supply.fed(way.far) and not passed[way.far] >> net & 1
        ]
        if len(feeds) > 1:
            yield from _joined(context, _possible(context, net, feeds))
    yield from _through_loads(context)


def _possible(context: RuleContext, net: int, feeds: list[Feed]) -> list[Feed]:
    """Return the feeds whose origin can be live without the net while the feed conducts. A line
    that is live only backwards through a switch has lost its own feed and counts for none."""
    elsewhere = live_without(context.supply, context.states, net)
    return [feed for feed in feeds
            if any(context.states.possible(entry.condition & _closes(context, feed))
                   and _runs_forward(context, entry) for entry in elsewhere[feed.origin])]


def _runs_forward(context: RuleContext, entry: Entry) -> bool:
    """Say whether a way passes every contact from its input to its output."""
    for link, net in zip(entry.links, entry.nets, strict=False):
        edge = link.edge
        if edge.type != "contact" or edge.primitive is None or net == link.a:
            continue
        terminals = context.vehicle.parts[edge.part].kind.terminals
        a, b = terminals.get(edge.primitive.a), terminals.get(edge.primitive.b)
        if a is not None and b is not None and (a.side, b.side) == (Side.UPPER, Side.LOWER):
            return False
    return True


def _closes(context: RuleContext, feed: Feed) -> int:
    """Return the condition under which the feed conducts."""
    if feed.link.edge.type == "contact":
        return context.states.closing(feed.link.edge).condition
    return context.states.everything


def _joined(context: RuleContext, feeds: list[Feed]) -> Iterator[Diagnostic]:
    for first, second in combinations(feeds, 2):
        if first.part == second.part:
            continue
        if first.is_fuse and second.is_fuse:
            yield _two_fuses(context, first, second)
            continue
        bridge = _bridge(context, first, second)
        if bridge is not None and first.origin != second.origin:
            yield _two_switches(context, first, second, bridge)
            continue
        for feed, other in ((first, second), (second, first)):
            yield from _reverse(context, feed, other)


def _two_fuses(context: RuleContext, first: Feed, second: Feed) -> Diagnostic:
    wires = wire_on_net_between(context, first.node, second.node)
    wire = _bridge(context, first, second) or (
        max(wires, key=lambda w: w.span) if wires else None)
    parts = context.vehicle.parts
    message = (f"the outputs of {part_words(parts[first.part])} and "
               f"{part_words(parts[second.part])} are joined")
    if wire is not None:
        message += f" by {wire_words(wire)}"
    message += ": each feeds the other's loads when it is pulled or its supply is off"
    return Diagnostic(
        Severity.ERROR, "backfeed", message,
        wire.span if wire is not None else parts[second.part].name_span,
        "take the joining wire out, or put a diode there",
        (Related("first fuse", parts[first.part].name_span),
         Related("second fuse", parts[second.part].name_span)),
        wire.name if wire is not None else second.part)


def _bridge(context: RuleContext, first: Feed, second: Feed) -> Wire | None:
    """Return the wire without which both feeds would have loads of their own; None if there is
    none (then both feed one thing by turns, as turn and hazard switches do)."""
    for wire in wire_on_net_between(context, first.node, second.node):
        here = side_without(context, first.node, wire)
        if second.node in here:
            continue
        there = side_without(context, second.node, wire)
        if _drains(context, here, first) and _drains(context, there, second):
            return wire
    return None


def _drains(context: RuleContext, nodes: set[str], feed: Feed) -> bool:
    """Say whether something but the feed itself hangs on the nodes."""
    for node in nodes:
        for edge in context.topology.edges_at[node]:
            if edge.primitive is not None and edge.part != feed.part and (
                    edge.type not in ("joint", "capacitor")):
                return True
    return False


def _two_switches(context: RuleContext, first: Feed, second: Feed, wire: Wire) -> Diagnostic:
    parts = context.vehicle.parts
    return Diagnostic(
        Severity.WARNING, "backfeed",
        f"{wire_words(wire)} joins what {part_words(parts[first.part])} switches with what "
        f"{part_words(parts[second.part])} switches: each turns on the other's loads",
        wire.span, "take the wire out, or put a diode there",
        (Related("switched here", parts[first.part].name_span),
         Related("and here", parts[second.part].name_span)), wire.name)


def _loads_on(context: RuleContext, settled: Settled) -> list[Load]:
    return [load for load in context.loads if settled.works(load.a, load.b)]


def _reverse(context: RuleContext, feed: Feed, other: Feed) -> Iterator[Diagnostic]:
    """Look for a state in which `other` makes the net live and `feed` passes it on backwards."""
    closes = _closes(context, feed)
    for entry in live_without(context.supply, context.states, feed.origin)[feed.net]:
        condition = entry.condition & closes
        if not context.states.possible(condition):
            continue
        settled = context.simulation.reach(condition)
        if settled is None or feed.net not in settled.live or feed.origin not in settled.live:
            continue
        without = context.simulation.settle(settled.state, without=feed.link)
        if feed.origin in without.live or feed.net not in without.live:
            continue
        victims = [load for load in _loads_on(context, settled)
                   if not without.works(load.a, load.b)]
        if not victims:
            continue
        parts = context.vehicle.parts
        names = list(dict.fromkeys(load.part.name for load in victims))
        when = context.states.describe(condition)
        wires = wire_on_net_between(context, feed.node, other.node)
        wire = max(wires, key=lambda w: w.span) if wires else None
        yield Diagnostic(
            Severity.ERROR, "backfeed",
            (f"with {when} " if when else "at rest ")
            + f"current runs backwards through {part_words(parts[feed.part])}, fed by "
            f"{part_words(parts[other.part])}, and turns on {listed(names)}",
            wire.span if wire is not None else parts[feed.part].name_span,
            "put a diode into the feed, or separate the two",
            (Related("fed backwards", parts[feed.part].name_span),
             Related("by this", parts[other.part].name_span)),
            wire.name if wire is not None else feed.part)
        return


def _through_loads(context: RuleContext) -> Iterator[Diagnostic]:
    for service in context.once(services):
        if service.trouble is not Trouble.BETWEEN:
            continue
        load = service.load
        wire = _odd_wire(context, load)
        yield Diagnostic(
            Severity.ERROR, "backfeed",
            f"{part_words(load.part)} lies between two supplies and has no way to earth: "
            f"{load.node_a} and {load.node_b} are both fed, so one feeds the other through it",
            wire.span if wire is not None else load.part.name_span,
            "earth one side of it, or put a diode in series",
            (Related("the load", load.part.name_span),), load.part.name)


def _odd_wire(context: RuleContext, load: Load) -> Wire | None:
    """Return the wire at the load's lower end, which should lead to earth."""
    wires = context.wires_at.get(load.node_b, ())
    return wires[0] if len(wires) == 1 else None
