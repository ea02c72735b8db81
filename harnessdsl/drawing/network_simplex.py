"""Whole-number levels for the nodes of a graph: the least total length of weighted edges.

Network simplex after Gansner, Koutsofios, North and Vo, "A technique for drawing directed
graphs", IEEE Trans. Software Engineering 19(3), 1993, section 2.3.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Arc = tuple[int, int, int, int]
"""tail, head, least length, weight: level[head] - level[tail] >= length."""


def drop_cycles(count: int, arcs: Sequence[Arc]) -> list[Arc]:
    """Return the arcs without those that close a cycle, found by depth-first search in order."""
    out: list[list[Arc]] = [[] for _ in range(count)]
    for arc in arcs:
        out[arc[0]].append(arc)
    state = [0] * count
    kept: set[int] = set()
    position = {id(arc): index for index, arc in enumerate(arcs)}
    for root in range(count):
        if state[root]:
            continue
        state[root] = 1
        stack = [(root, iter(out[root]))]
        while stack:
            node, rest = stack[-1]
            for arc in rest:
                head = arc[1]
                if state[head] == 1:
                    continue  # closes a cycle (or a loop)
                kept.add(position[id(arc)])
                if not state[head]:
                    state[head] = 1
                    stack.append((head, iter(out[head])))
                    break
            else:
                state[node] = 2
                stack.pop()
    return [arc for index, arc in enumerate(arcs) if index in kept]


def levels(count: int, arcs: Sequence[Arc], max_rounds: int = 400) -> list[int]:
    """Return a level for each of `count` nodes, the lowest 0, such that every arc has at least
    its length and the sum of weight times length is least (or near it, after `max_rounds`).

    The arcs must be free of cycles; parts of the graph that hang together are treated each for
    itself.
    """
    if not count:
        return []
    level = _longest_path(count, arcs)
    at: list[list[int]] = [[] for _ in range(count)]
    for index, (tail, head, _, _) in enumerate(arcs):
        at[tail].append(index)
        at[head].append(index)
    done = [False] * count
    for root in range(count):
        if done[root]:
            continue
        members = [root]
        done[root] = True
        for node in members:
            for index in at[node]:
                for far in arcs[index][:2]:
                    if not done[far]:
                        done[far] = True
                        members.append(far)
        if len(members) > 1:
            _Simplex(arcs, at, level, members).solve(max_rounds)
        lowest = min(level[node] for node in members)
        for node in members:
            level[node] -= lowest
    return level


def _longest_path(count: int, arcs: Sequence[Arc]) -> list[int]:
    waiting = [0] * count
    out: list[list[Arc]] = [[] for _ in range(count)]
    for arc in arcs:
        waiting[arc[1]] += 1
        out[arc[0]].append(arc)
    level = [0] * count
    queue = [node for node in range(count) if not waiting[node]]
    for node in queue:
        for _, head, length, _ in out[node]:
            level[head] = max(level[head], level[node] + length)
            waiting[head] -= 1
            if not waiting[head]:
                queue.append(head)
    if len(queue) < count:
        raise ValueError("the arcs have a cycle")
    return level


@dataclass(slots=True)
class _Simplex:
    """One connected graph, with `level` changed in place."""

    arcs: Sequence[Arc]
    at: list[list[int]]
    level: list[int]
    members: list[int]

    def slack(self, index: int) -> int:
        tail, head, length, _ = self.arcs[index]
        return self.level[head] - self.level[tail] - length

    def solve(self, max_rounds: int) -> None:
        in_tree = self._tight_tree()
        for _ in range(max_rounds):
            parent, order, low, lim = self._walk(in_tree)
            leaving, tail_inside = self._leaving(in_tree, parent, order)
            if leaving < 0:
                return
            tail, head = self.arcs[leaving][:2]
            child = tail if parent[tail] == leaving else head
            inner = (low[child], lim[child])
            entering, shift = -1, 0
            for node in self.members:
                for index in self.at[node]:
                    a, b = self.arcs[index][:2]
                    if a != node or index in in_tree:
                        continue
                    a_in = inner[0] <= lim[a] <= inner[1]
                    b_in = inner[0] <= lim[b] <= inner[1]
                    # from the head's side of the leaving arc to its tail's side
                    if a_in == b_in or (b_in if not tail_inside else a_in):
                        continue
                    slack = self.slack(index)
                    if entering < 0 or slack < shift:
                        entering, shift = index, slack
            if entering < 0:
                return  # cannot be for a bounded problem; leave the levels as they are
            if shift:
                # the child's side moves: away when it holds the head of the leaving arc
                move = shift if not tail_inside else -shift
                for node in self.members:
                    if inner[0] <= lim[node] <= inner[1]:
                        self.level[node] += move
            in_tree.discard(leaving)
            in_tree.add(entering)

    def _tight_tree(self) -> set[int]:
        """Grow a spanning tree of arcs without slack, moving it as a whole where it is stuck."""
        tree: set[int] = set()
        inside = {self.members[0]}
        stack = [self.members[0]]
        while True:
            while stack:
                node = stack.pop()
                for index in self.at[node]:
                    tail, head = self.arcs[index][:2]
                    far = head if tail == node else tail
                    if far not in inside and not self.slack(index):
                        inside.add(far)
                        tree.add(index)
                        stack.append(far)
            if len(inside) == len(self.members):
                return tree
            best, best_slack = -1, 0
            for node in self.members:
                if node not in inside:
                    continue
                for index in self.at[node]:
                    tail, head = self.arcs[index][:2]
                    if (tail in inside) != (head in inside):
                        slack = self.slack(index)
                        if best < 0 or slack < best_slack:
                            best, best_slack = index, slack
            tail, head = self.arcs[best][:2]
            shift = best_slack if tail in inside else -best_slack
            for node in self.members:
                if node in inside:
                    self.level[node] += shift
            stack.append(head if head in inside else tail)

    def _walk(
        self, in_tree: set[int]
    ) -> tuple[dict[int, int], list[int], dict[int, int], dict[int, int]]:
        """Number the tree's nodes in postorder; `parent` holds the arc to the parent."""
        root = self.members[0]
        parent: dict[int, int] = {root: -1}
        order: list[int] = []
        low: dict[int, int] = {}
        lim: dict[int, int] = {}
        stack = [(root, iter([i for i in self.at[root] if i in in_tree]), 0)]
        while stack:
            node, rest, first = stack[-1]
            for index in rest:
                tail, head = self.arcs[index][:2]
                far = head if tail == node else tail
                if far not in parent:
                    parent[far] = index
                    stack.append((far, iter([i for i in self.at[far] if i in in_tree]), len(order)))
                    break
            else:
                low[node], lim[node] = first, len(order)
                order.append(node)
                stack.pop()
        return parent, order, low, lim

    def _leaving(
        self, in_tree: set[int], parent: dict[int, int], order: list[int]
    ) -> tuple[int, bool]:
        """Return a tree arc with a negative cut value, and whether its tail is on the child's
        side; (-1, False) when there is none.

        The cut value of the arc above a child is the weight of all arcs between the child's
        subtree and the rest, counted by direction: sums run up the tree.
        """
        out_of: dict[int, int] = dict.fromkeys(self.members, 0)
        """Weight of arcs that leave the node minus that of those that enter it; over a subtree
        the inner ones cancel."""
        for node in self.members:
            for index in self.at[node]:
                tail, head, _, weight = self.arcs[index]
                if tail == head:
                    continue
                out_of[node] += weight if tail == node else -weight
        worst, found, tail_inside = 0, -1, False
        for child in order:
            index = parent[child]
            if index < 0:
                continue
            tail, head = self.arcs[index][:2]
            up = head if tail == child else tail
            out_of[up] += out_of[child]
            value = out_of[child] if tail == child else -out_of[child]
            if value < worst:
                worst, found, tail_inside = value, index, tail == child
        return found, tail_inside
