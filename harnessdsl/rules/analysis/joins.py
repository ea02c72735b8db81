"""Supplies that are joined behind their fuses and switches."""

from __future__ import annotations

import enum
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from harnessdsl.model.kind import Side
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.dominance import nets_always_passed
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.analysis.service import Trouble, services
from harnessdsl.rules.analysis.supply import Entry, is_protection, live_without
from harnessdsl.rules.analysis.tracing import (
    route,
    side_without,
    wire_on_net_between,
    wires_of,
)
from harnessdsl.rules.context import RuleContext


class Way(enum.Enum):
    """In which of the ways two supplies are joined."""

    FUSES = "the outputs of two fuses"
    SWITCHES = "the outputs of two switches, each with loads of its own"
    BACKWARDS = "a contact or fuse is fed from behind"
    LOAD = "a load between two supplies"


@dataclass(frozen=True, slots=True)
class Join:
    """Two supplies found joined."""

    way: Way
    first: str
    """The part through which a line is fed as meant; for LOAD the load's part."""
    second: str
    """The part that feeds the same line besides."""
    net_key: str
    """A node of the line, to tell joins apart."""
    wires: tuple[Wire, ...]
    """Wires that may be what joins them, the likeliest first."""
    condition: int = 0
    victims: tuple[str, ...] = ()
    """Parts that come on though they should be off."""
    load: Load | None = None

    @property
    def key(self) -> tuple[str, str, str, str]:
        return self.way.name, self.first, self.second, self.net_key


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


def joins(context: RuleContext) -> tuple[Join, ...]:
    """Return all joins of supplies, each once."""
    if not context.has_sound_supply:
        return ()
    found: dict[tuple[str, str, str, str], Join] = {}
    for join in _all(context):
        found.setdefault(join.key, join)
    return tuple(found.values())


def _all(context: RuleContext) -> Iterator[Join]:
    supply = context.supply
    passed = nets_always_passed(supply)
    for net, ways in enumerate(supply.earth_ways):
        # earth_ways lead from a net to where the supply may come from: contacts, fuses both ways
        if not supply.fed(net) or net in supply.live_nets:
            continue
        feeds = [
            Feed(way.link, net, way.far) for way in ways
            if way.link.edge.part and (is_protection(way.link.edge)
                                       or way.link.edge.type == "contact")
            and supply.fed(way.far) and not passed[way.far] >> net & 1
        ]
        if len(feeds) > 1:
            for first, second in combinations(_possible(context, net, feeds), 2):
                if first.part != second.part:
                    yield from _joined(context, first, second)
    for service in context.once(services):
        if service.trouble is Trouble.BETWEEN:
            load = service.load
            nodes = [load.node_b, load.node_a, *context.nets.members[load.b],
                     *context.nets.members[load.a]]
            at = dict.fromkeys(w for node in nodes for w in context.wires_at.get(node, ()))
            yield Join(Way.LOAD, load.part.name, "", load.node_b, tuple(at), load=load)


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


def _joined(context: RuleContext, first: Feed, second: Feed) -> Iterator[Join]:
    between = wire_on_net_between(context, first.node, second.node)
    bridge = _bridge(context, first, second, between)
    latest = sorted(between, key=lambda wire: wire.span, reverse=True)
    likely = tuple(latest if bridge is None else [bridge, *(w for w in latest if w != bridge)])
    if first.is_fuse and second.is_fuse:
        yield Join(Way.FUSES, first.part, second.part, first.node, likely)
        return
    if bridge is not None and first.origin != second.origin:
        yield Join(Way.SWITCHES, first.part, second.part, first.node, likely)
        return
    for feed, other in ((first, second), (second, first)):
        yield from _backwards(context, feed, other, likely)


def _bridge(context: RuleContext, first: Feed, second: Feed, between: list[Wire]) -> Wire | None:
    """Return the wire without which both feeds would have loads of their own; None if there is
    none (then both feed one thing by turns, as turn and hazard switches do)."""
    for wire in between:
        here = side_without(context, first.node, wire)
        if second.node in here:
            continue
        there = side_without(context, second.node, wire)
        own = (first.part, second.part)  # a coil that its own contact holds is none of these
        if _drains(context, here, own) and _drains(context, there, own):
            return wire
    return None


def _drains(context: RuleContext, nodes: set[str], own: tuple[str, str]) -> bool:
    """Say whether something but the feeds themselves hangs on the nodes."""
    return any(edge.primitive is not None and edge.part not in own
               and edge.type not in ("joint", "capacitor")
               for node in nodes for edge in context.topology.edges_at[node])


def _backwards(context: RuleContext, feed: Feed, other: Feed, likely: tuple[Wire, ...]
               ) -> Iterator[Join]:
    """Look for a state in which `other` makes the net live and `feed` passes it on backwards."""
    for entry in live_without(context.supply, context.states, feed.origin)[feed.net]:
        condition = entry.condition & _closes(context, feed)
        if not context.states.possible(condition):
            continue
        settled = context.simulation.reach(condition)
        if settled is None or feed.net not in settled.live or feed.origin not in settled.live:
            continue
        without = context.simulation.settle(settled.state, without=feed.link)
        if feed.origin in without.live or feed.net not in without.live:
            continue
        victims = [load.part.name for load in context.loads
                   if settled.works(load.a, load.b) and not without.works(load.a, load.b)]
        if victims:
            on_the_way = wires_of(route(context, entry, feed.node))[::-1]
            yield Join(Way.BACKWARDS, feed.part, other.part, feed.node,
                       tuple(dict.fromkeys([*likely, *on_the_way])), condition,
                       tuple(dict.fromkeys(victims)))
            return
