"""The primitives of a part that are still to be drawn, and which way their terminals face."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from harnessdsl.model.kind import Kind, Primitive, Side, Terminal
from harnessdsl.model.vehicle import Part

Facing = Literal["top", "bottom"]


class Pool:
    """What symbol families draw from: each takes the primitives that it knows.

    `wanted` are the terminals that get ports; what hangs on none of them is left out. Terminals
    that a joint binds together are one net, called after the first of them.
    """

    def __init__(
        self,
        part: Part,
        wanted: frozenset[str] | None = None,
        wired: frozenset[str] | None = None,
        positive_earth: bool = False,
    ) -> None:
        self.part = part
        # minus then faces the supply lines, plus the earth
        self._turned = positive_earth and any(p.type == "source" for p in part.kind.primitives)
        self._wired = wired
        self.kind: Kind = part.kind
        self._inner = {n for n, t in self.kind.terminals.items() if t.role == "inner"}
        known = tuple(n for n in self.kind.terminals if n not in self._inner)
        names = known if wanted is None else tuple(t for t in known if t in wanted)
        extra = tuple(sorted((wanted or frozenset()) - frozenset(self.kind.terminals)))
        self.wanted: tuple[str, ...] = (*names, *extra)
        self._net = _join_nets(self.kind)
        self.primitives = self._on_wanted(wanted)
        self._facing = self._decide_facing()
        self._height = self._potentials()
        self._left = list(self.primitives)
        self.boxed = False
        """A box around all terminals has been drawn."""

    def terminal(self, name: str) -> Terminal | None:
        return self.kind.terminals.get(name)

    def net(self, terminal: str) -> str:
        """Return the name of the net that a terminal is on."""
        return self._net.get(terminal, terminal)

    def facing(self, terminal: str) -> Facing:
        """Return where a terminal's conductor leaves the block."""
        return self._facing.get(terminal, "top")

    def take(
        self, *types: str, where: Callable[[Primitive], bool] | None = None
    ) -> list[Primitive]:
        """Remove the primitives of these types (any when none is given) and return them."""
        taken = [
            p
            for p in self._left
            if (not types or p.type in types) and (where is None or where(p))
        ]
        self.drop(taken)
        return taken

    def drop(self, primitives: Iterable[Primitive]) -> None:
        gone = {id(p) for p in primitives}
        self._left = [p for p in self._left if id(p) not in gone]

    def give_back(self, primitives: Iterable[Primitive]) -> None:
        self._left = [*primitives, *self._left]

    def ends(self, primitive: Primitive) -> tuple[str, str, bool]:
        """Return upper net, lower net, and whether end `a` is the lower one."""
        a, b = self.net(primitive.a), self.net(primitive.b)
        if self._height[primitive.a] < self._height[primitive.b] - 1e-6:
            return b, a, True
        return a, b, False

    def lone_terminals(self) -> tuple[str, ...]:
        """Return the wanted terminals that lead to nothing: no primitive, no other terminal."""
        touched = {self.net(n) for p in self.primitives for n in (p.a, p.b)}
        nets = [self.net(t) for t in self.wanted]
        return tuple(
            t
            for t, net in zip(self.wanted, nets, strict=True)
            if net not in touched and nets.count(net) == 1
        )

    def close(self) -> None:
        """Draw nothing of what is inside: a box stands for it, with each terminal by itself."""
        self._left = []
        self._net = {}
        self.boxed = True

    def is_bonded(self, name: str) -> bool:
        """Return whether a terminal is a metal case that sits on metal."""
        terminal = self.terminal(name)
        return terminal is not None and terminal.case and bool(self.part.conductor)

    def has_port(self, name: str) -> bool:
        """Return whether a terminal leaves the block: a bonded case needs a wire for that."""
        if name not in self.wanted:
            return False
        return not self.is_bonded(name) or self._wired is None or name in self._wired

    def shown_nets(self) -> frozenset[str]:
        return frozenset(self.net(t) for t in self.wanted)

    def is_inner(self, net: str) -> bool:
        """Return whether no terminal outside is on the net."""
        members = [n for n in self.kind.terminals if self.net(n) == net] or [net]
        return all(n in self._inner or n not in self.kind.terminals for n in members)

    def coil_key(self, name: str) -> str:
        """Return the link key of the coil that a contact names ('' names the only one)."""
        coils = [p for p in self.kind.primitives if p.type == "coil"]
        for coil in coils:
            if coil.name == name:
                return f"coil:{coil.name}"
        return f"coil:{coils[0].name}" if coils else f"coil:{name}"

    def _on_wanted(self, wanted: frozenset[str] | None) -> list[Primitive]:
        """Return what is drawn: what touches a wanted net, and on from there through nets that
        have no terminal outside. Joints are not drawn: their ends are one net."""
        left = [p for p in self.kind.primitives if p.type != "joint"]
        if wanted is None:
            return left
        live = {self.net(t) for t in self.wanted}
        kept: set[int] = set()
        grown = True
        while grown:
            grown = False
            for index, p in enumerate(left):
                ends = {self.net(p.a), self.net(p.b)}
                if index not in kept and ends & live:
                    kept.add(index)
                    live |= {net for net in ends if self.is_inner(net)}
                    grown = True
        return [p for index, p in enumerate(left) if index in kept]

    def _decide_facing(self) -> dict[str, Facing]:
        """Terminals that may be at either side are put opposite to what they lead to."""
        facing: dict[str, Facing] = {}
        for name, terminal in self.kind.terminals.items():
            if name not in self._inner and (terminal.case or terminal.side is Side.LOWER):
                facing[name] = "bottom"
            elif terminal.side is Side.UPPER:
                facing[name] = "top"
        if self._turned:
            facing = {n: "bottom" if side == "top" else "top" for n, side in facing.items()}
        for name in self.wanted:
            if name not in facing:
                facing[name] = self._opposite(name, facing)
        for name in self.kind.terminals:
            if name not in facing and name not in self._inner:
                facing[name] = self._opposite(name, facing)
        return facing

    def _opposite(self, name: str, facing: dict[str, Facing]) -> Facing:
        above = below = 0
        for primitive in self.primitives:
            if name in (primitive.a, primitive.b):
                other = facing.get(primitive.b if primitive.a == name else primitive.a)
                above += other == "top"
                below += other == "bottom"
        if above == below == 0:
            terminal = self.terminal(name)
            low = terminal is not None and terminal.role in ("earth", "low-side")
            return "bottom" if low else "top"
        return "bottom" if above >= below else "top"

    def _potentials(self) -> dict[str, float]:
        """Return a height from 0 (lower terminals) to 1 (upper ones) for every end; what lies
        between takes the mean of its neighbours, so that chains run downwards."""
        fixed = {name: 1.0 if side == "top" else 0.0 for name, side in self._facing.items()}
        ends = [(p.a, p.b) for p in self.kind.primitives]
        height = {name: fixed.get(name, 0.5) for pair in ends for name in pair}
        for _ in range(20):
            for name in height:
                if name not in fixed:
                    near = [height[b] for a, b in ends if a == name]
                    near += [height[a] for a, b in ends if b == name]
                    height[name] = sum(near) / len(near)
        return height


def _join_nets(kind: Kind) -> dict[str, str]:
    net: dict[str, str] = {name: name for name in kind.terminals}
    for p in kind.primitives:
        if p.type == "joint":
            keep, gone = net.setdefault(p.a, p.a), net.setdefault(p.b, p.b)
            for name, on in net.items():
                if on == gone:
                    net[name] = keep
    return net
