"""Which thing of one vehicle is which thing of another, also under another name.

Scores are symmetric and ties are broken by the pair of names without regard to order, so that
matching B with A is matching A with B turned round. The weights are common practice: tuned on
renumbered fuse boxes, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from harnessdsl.plans.meaning import Fields, Meaning, renamed_fields

Pairs = dict[str, str]
"""Name in the first vehicle -> name in the second."""
MAX_ROUNDS = 6

NAME, LABEL, KIND, FAMILY, PLACE, SLOT = 4.0, 4.0, 2.0, 1.0, 1.0, 1.0
NEIGHBOURS, LOOKS, MEMBERS = 4.0, 2.0, 8.0
SAME_NAME_LEAST, OTHER_NAME_LEAST = 6.0, 8.0


def _choose(scores: Mapping[tuple[str, str], float], least: Callable[[str, str], float]) -> Pairs:
    """Return pairs by falling score, each name once."""
    order = sorted((-score, min(pair), max(pair), pair) for pair, score in scores.items()
                   if score >= least(*pair))
    taken_a: set[str] = set()
    taken_b: set[str] = set()
    found: Pairs = {}
    for _, _, _, (a, b) in order:
        if a not in taken_a and b not in taken_b:
            taken_a.add(a)
            taken_b.add(b)
            found[a] = b
    return found


def _alike(one: Counter[object], other: Counter[object]) -> float:
    """Return how much two bags have in common, 0 to 1; two empty ones are half alike."""
    total = one.total() + other.total()
    return 2 * (one & other).total() / total if total else 0.5


def _same_text(one: str, other: str) -> float:
    return 1.0 if one and one == other else 0.0


# places, conductors, runs, circuits, conditions: by name, label and members

def _match_by_members(a: Mapping[str, Fields], b: Mapping[str, Fields],
                      members_a: Callable[[str], Iterable[object]],
                      members_b: Callable[[str], Iterable[object]]) -> Pairs:
    bags_a = {name: Counter(members_a(name)) for name in a}
    bags_b = {name: Counter(members_b(name)) for name in b}
    scores: dict[tuple[str, str], float] = {}
    for one in a:
        for other in b:
            same_name = one == other
            same_label = _same_text(a[one].get("label", ""), b[other].get("label", ""))
            bag_a, bag_b = bags_a[one], bags_b[other]
            if not same_name and not same_label and not bag_a & bag_b:
                continue
            share = _alike(bag_a, bag_b) if bag_a or bag_b else 0.0
            scores[one, other] = NAME * same_name + LABEL * same_label + MEMBERS * share
    return _choose(scores, lambda x, y: 3.0 if x == y else 6.0)


# parts

@dataclass(slots=True)
class _Side:
    """One vehicle's parts and what is wired to each: (own terminal, other part, its terminal)."""

    parts: Mapping[str, Fields]
    links: dict[str, list[tuple[str, str, str]]]
    looks: dict[str, Counter[object]]

    @classmethod
    def of(cls, meaning: Meaning) -> _Side:
        links: dict[str, list[tuple[str, str, str]]] = {name: [] for name in meaning["part"]}
        looks: dict[str, Counter[object]] = {name: Counter() for name in meaning["part"]}
        for wire in meaning["wire"].values():
            (part_a, half_a, end_a), (part_b, half_b, end_b) = wire["ends"]
            at_a, at_b = f"{half_a}.{end_a}", f"{half_b}.{end_b}"
            for part, at, far, far_at in ((part_a, at_a, part_b, at_b),
                                          (part_b, at_b, part_a, at_a)):
                if part in links:
                    links[part].append((at, far, far_at))
                    looks[part][at, wire["colour"], wire["area_mm2"]] += 1
        return cls(meaning["part"], links, looks)


def _match_parts(a: Meaning, b: Meaning, places: Pairs) -> Pairs:
    one, other = _Side.of(a), _Side.of(b)
    settled = {name: name for name in one.parts if _untouched(name, one, other, places)}
    open_a = [name for name in one.parts if name not in settled]
    taken = set(settled.values())
    open_b = [name for name in other.parts if name not in taken]
    likeness = {}
    for x in open_a:
        for y in open_b:
            base = _likeness(x, y, one.parts[x], other.parts[y], places)
            if base is not None:
                likeness[x, y] = base + LOOKS * _alike(one.looks[x], other.looks[y])
    pairs = settled | {name: name for name in open_a if name in other.parts
                       and name not in taken}
    for _ in range(MAX_ROUNDS):
        scores = {(x, y): value + NEIGHBOURS * _neighbours(x, y, one, other, pairs)
                  for (x, y), value in likeness.items()}
        better = settled | _choose(scores, lambda x, y: SAME_NAME_LEAST if x == y
                                   else OTHER_NAME_LEAST)
        if better == pairs:
            break
        pairs = better
    return pairs


def _untouched(name: str, one: _Side, other: _Side, places: Pairs) -> bool:
    """Say whether a part of this name is the same in both, with the same wires."""
    if name not in other.parts or renamed_fields("part", one.parts[name], {"place": places}) != (
            other.parts[name]):
        return False
    return (sorted(one.links[name]) == sorted(other.links[name])
            and one.looks[name] == other.looks[name])


def _likeness(x: str, y: str, one: Fields, other: Fields, places: Pairs) -> float | None:
    """Return how alike two parts are by themselves; None when they can't be the same."""
    same_family = one["family"] == other["family"]
    if x != y and not same_family:
        return None
    score: float = NAME * (x == y) + LABEL * _same_text(one["label"], other["label"])
    score += FAMILY * same_family + KIND * (one["kind"] == other["kind"])
    if one["place"] and places.get(one["place"]) == other["place"]:
        score += PLACE + SLOT * _same_text(one["slot"], other["slot"])
    return score


def _neighbours(x: str, y: str, one: _Side, other: _Side, pairs: Pairs) -> float:
    there: Counter[object] = Counter(other.links[y])
    here: Counter[object] = Counter(
        (at, pairs.get(far, f"\0{far}"), far_at) for at, far, far_at in one.links[x])
    return _alike(here, there)


# wires

RE_PINNED_LEAST, SAME_ENDS_LEAST = 7.0, 9.0


def _match_wires(a: Meaning, b: Meaning, names: Mapping[str, Pairs], known: Pairs | None) -> Pairs:
    """Return the pairs of wires. With `known`, only wires between the same ends are added to it."""
    settled = known or {}
    taken = set(settled.values())
    names = {"part": gone_marked(names["part"], a["part"]), "run": names["run"]}
    wires_a = {name: renamed_fields("wire", fields, names) for name, fields in a["wire"].items()
               if name not in settled}
    wires_b = {name: fields for name, fields in b["wire"].items() if name not in taken}
    here = {name: fields["ends"] for name, fields in wires_a.items()}
    there = {name: fields["ends"] for name, fields in wires_b.items()}
    by_end: dict[object, list[str]] = {}
    by_name: dict[str, list[str]] = {}
    for name, fields in wires_b.items():
        for end in dict.fromkeys(there[name]):
            by_end.setdefault(end, []).append(name)
        if fields["name"]:
            by_name.setdefault(fields["name"], []).append(name)
    scores: dict[tuple[str, str], float] = {}
    for x, fields in wires_a.items():
        near = [y for end in here[x] for y in by_end.get(end, ())]
        near += by_name.get(fields["name"], ()) if fields["name"] else ()
        for y in dict.fromkeys(near):
            scores[x, y] = _wire_score(fields, wires_b[y], here[x], there[y])
    least = RE_PINNED_LEAST if known is None else SAME_ENDS_LEAST
    return settled | _choose(scores, lambda x, y: least)


End = tuple[str, str, str]


def _wire_score(one: Fields, other: Fields, here: tuple[End, ...],
                there: tuple[End, ...]) -> float:
    shared = (Counter(here) & Counter(there)).total()
    parts = (Counter(e[0] for e in here) & Counter(e[0] for e in there)).total()
    score = (0.0, 4.0, 9.0)[shared] + 0.5 * parts
    score += 5.0 * _same_text(one["name"], other["name"])
    score += 2.0 * (one["colour"] == other["colour"]) + 1.0 * (
        one["area_mm2"] == other["area_mm2"])
    score += 0.5 * (one["length_m"] == other["length_m"])
    rest = ("chain_length_m", "runs", "insulation", "temperature_class_c", "material", "fusible")
    same = len([field for field in rest if one[field] == other[field]])
    # only to choose among several wires between the same ends
    return float(score + 0.25 * same * (shared == 2))


def gone_marked(pairs: Mapping[str, str], names: Iterable[str]) -> Pairs:
    """Return the pairs with every other name of the first vehicle turned into one that the second
    can't have: a part that is gone is not the new part that got its name."""
    return {name: pairs.get(name, f"\0{name}") for name in names}


def match(a: Meaning, b: Meaning, known: Mapping[str, Pairs] | None = None) -> dict[str, Pairs]:
    """Return group -> pairs of names that mean the same thing in `a` and in `b`; `known` holds the
    pairs of parts and wires where they need not be recognised."""
    known = known or {}

    def in_place(meaning: Meaning) -> dict[str, list[object]]:
        found: dict[str, list[object]] = {}
        for name, fields in meaning["part"].items():
            found.setdefault(fields["place"], []).append(name)
        for name, fields in meaning["place"].items():
            found.setdefault(name, []).append(("at", fields["position_mm"]))
        return found

    held_a, held_b = in_place(a), in_place(b)
    pairs: dict[str, Pairs] = {"vehicle": {"vehicle": "vehicle"}}
    pairs["place"] = _match_by_members(a["place"], b["place"], lambda n: held_a.get(n, ()),
                                       lambda n: held_b.get(n, ()))
    pairs["conductor"] = {name: name for name in a["conductor"] if name in b["conductor"]}
    pairs["part"] = known["part"] if "part" in known else _match_parts(a, b, pairs["place"])
    places, parts = pairs["place"], pairs["part"]
    pairs["run"] = _match_by_members(
        a["run"], b["run"], lambda n: [places.get(p, f"\0{p}") for p in a["run"][n]["places"]],
        lambda n: b["run"][n]["places"])
    pairs["wire"] = _match_wires(a, b, pairs, known.get("wire"))
    wires = pairs["wire"]
    pairs["cable"] = _match_by_members(
        a["cable"], b["cable"], lambda n: [wires.get(w, f"\0{w}") for w in a["cable"][n]["wires"]],
        lambda n: b["cable"][n]["wires"])
    pairs["circuit"] = _match_by_members(
        a["circuit"], b["circuit"],
        lambda n: [parts.get(p, f"\0{p}") for p in a["circuit"][n]["parts"]],
        lambda n: b["circuit"][n]["parts"])
    pairs["condition"] = _match_by_members(
        a["condition"], b["condition"],
        lambda n: [(parts.get(p, f"\0{p}"), s, v) for p, s, v in a["condition"][n]["positions"]],
        lambda n: b["condition"][n]["positions"])
    return pairs
