"""What to trace next, against file order and chance: wires verified after N checks and M minutes.

    python bench/trace_order.py
"""

from __future__ import annotations

import random
import statistics
from pathlib import Path

from harnessdsl.pipeline import load
from harnessdsl.plans.trace_order import TracePlanner, run_in_order

DEMO = Path(__file__).parent.parent / "examples" / "tourer" / "tourer.harness"
SEEDS = range(20)
CHECKS = (10, 20, 40, 80)
MINUTES = (30, 60, 120, 240)

Story = list[tuple[float, int]]


def after_checks(story: Story, count: int) -> int:
    """Return the wires verified after `count` checks."""
    return story[min(count, len(story)) - 1][1]


def after_minutes(story: Story, minutes: float) -> int:
    """Return the wires verified after `minutes`."""
    return max((wires for time, wires in story if time <= minutes), default=0)


def main() -> None:
    planner = TracePlanner(load(DEMO).vehicle)
    total = len(planner.open_wires)
    orders = {
        "trace-next": [run_in_order(planner, [step.check for step in planner.order()])],
        "file order": [run_in_order(planner, planner.checks)],
        "random": [run_in_order(planner, random.Random(seed).sample(
            planner.checks, len(planner.checks))) for seed in SEEDS],
    }
    print(f"{total} unverified wires of {len(planner.vehicle.wires)}; share verified, random order "
          f"is the mean of {len(SEEDS)}")
    print(f"{'order':<12}" + "".join(f"{n:>6} ch" for n in CHECKS)
          + "".join(f"{m:>5} min" for m in MINUTES) + "  all: checks, minutes")
    for name, stories in orders.items():
        checks = [statistics.mean(after_checks(s, n) for s in stories) / total for n in CHECKS]
        minutes = [statistics.mean(after_minutes(s, m) for s in stories) / total for m in MINUTES]
        print(f"{name:<12}" + "".join(f"{share:>9.0%}" for share in [*checks, *minutes])
              + f"  {statistics.mean(len(s) for s in stories):.0f}, "
              f"{statistics.mean(s[-1][0] for s in stories):.0f}")


if __name__ == "__main__":
    main()
