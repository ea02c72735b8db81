"""Which nets the supply has to pass on its way to a net."""

from __future__ import annotations

from harnessdsl.rules.analysis.supply import Supply


def nets_always_passed(supply: Supply) -> list[int]:
    """Return for each net the set, as bits, of nets that lie on every way to it from any live pole
    (itself included); 0 for a net that the supply does not reach.

    The greatest solution of: passed(n) = {n} + the intersection of passed(m) over all m before n
    (dominators, as in compilers), found by iteration.
    """
    count = len(supply.live_ways)
    everything = (1 << count) - 1
    passed = [everything] * count
    starts = sorted({pole.net for pole in supply.live_poles})
    reached = set(starts)
    queue = list(starts)
    for net in starts:
        passed[net] = 1 << net
    waiting = set(starts)
    for net in queue:
        waiting.discard(net)
        if net in supply.earth_nets and net not in starts:
            continue
        for way in supply.live_ways[net]:
            new = passed[way.far] & (passed[net] | 1 << way.far)
            if way.far in reached and new == passed[way.far]:
                continue
            passed[way.far] = new
            reached.add(way.far)
            if way.far not in waiting:
                waiting.add(way.far)
                queue.append(way.far)
    return [passed[net] if net in reached else 0 for net in range(count)]
