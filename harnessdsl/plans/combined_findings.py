"""Findings of many builds as one list: each finding once, with the builds in which it appears."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from harnessdsl.diagnostics import Diagnostic, sorted_unique
from harnessdsl.plans.builds import NamedBuild

MAX_NAMED = 3
"""How many builds are named one by one before the rest is counted."""


def combine(found: Sequence[tuple[NamedBuild, Sequence[Diagnostic]]]) -> list[Diagnostic]:
    """Return every finding once; one that is not in all builds says where it appears."""
    where: dict[Diagnostic, list[int]] = {}
    for number, (_, diagnostics) in enumerate(found):
        for diagnostic in dict.fromkeys(diagnostics):
            where.setdefault(diagnostic, []).append(number)
    builds = [build for build, _ in found]
    return sorted_unique(
        diagnostic if len(numbers) == len(builds) else
        replace(diagnostic, message=f"{diagnostic.message} (in: {describe(builds, numbers)})")
        for diagnostic, numbers in where.items())


def describe(builds: Sequence[NamedBuild], numbers: Sequence[int]) -> str:
    """Return words for a set of builds: the few things that tell it from the others, where there
    are such, else the builds by name."""
    wanted = set(numbers)
    width = max((len(build.marks) for build in builds), default=0)
    marks = list(dict.fromkeys(build.marks[i] for i in range(width) for build in builds
                               if i < len(build.marks)))
    holding = {mark: {i for i, build in enumerate(builds) if mark in build.marks}
               for mark in marks}
    for size in (1, 2, 3):
        for some in itertools.combinations(marks, size):
            if set.intersection(*(holding[mark] for mark in some)) == wanted:
                return ", ".join(some)
    for one, other in itertools.combinations(marks, 2):
        if holding[one] | holding[other] == wanted:
            return f"{one}; {other}"
    names = [builds[i].name for i in numbers]
    if len(names) > MAX_NAMED:
        return "; ".join(names[:MAX_NAMED]) + f"; and {len(names) - MAX_NAMED} more builds"
    return "; ".join(names)
