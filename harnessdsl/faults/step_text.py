"""One step for the person with the meter: where, how, what it should read, what is dangerous."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.case_text import quoted
from harnessdsl.faults.cautions import cautions
from harnessdsl.faults.effort import part_of_node, places_of_node
from harnessdsl.faults.last_question import SHOWN_SHARE, same_words
from harnessdsl.faults.likelihood import AMPS_FLOOR, AMPS_SHARE, OHM_FLOOR, OHM_SHARE
from harnessdsl.faults.next_measurement import Action, answer_as
from harnessdsl.faults.predictions import Candidate
from harnessdsl.faults.ranking import UNEXPLAINED, Cause, Verdict, Weights, words_of
from harnessdsl.model.colour import colour_name
from harnessdsl.model.location import access
from harnessdsl.model.vehicle import Condition, Vehicle

METER_WIDTHS = {"volts": (0.02, 0.05), "ohms": (OHM_SHARE, OHM_FLOOR),
                "amps": (AMPS_SHARE, AMPS_FLOOR)}
"""By kind of reading: the share of it, and the least, by which it may be off."""


def named(vehicle: Vehicle, name: str) -> str:
    part = vehicle.parts.get(name)
    return f"{name} {part.label}".rstrip() if part is not None else name


def point_text(vehicle: Vehicle, node: str) -> str:
    """Return a point in words: part, terminal or cavity and half, and the wires that end there."""
    if not node:
        return "clean metal of the body"
    if node.startswith("@"):
        return f"clean metal of the {node[1:]}"
    part = part_of_node(vehicle, node)
    if part is None:
        return node
    pieces = node.split(".")
    if part.connector is not None and len(pieces) > 2:
        half = part.connector.halves.get(pieces[1])
        side = " ".join(w for w in ((half.label if half else "") or f"half {pieces[1]}",
                                    f"({half.gender})" if half and half.gender else "") if w)
        where = f"plug {named(vehicle, part.name)}, cavity {pieces[2]}, {side}"
    elif len(pieces) > 1:
        where = f"{named(vehicle, part.name)}, terminal {node.partition('.')[2]}"
    else:
        where = named(vehicle, part.name)
    wires = [w for w in vehicle.wires.values() if node in (w.a.node, w.b.node)]
    looks = [" ".join(x for x in (colour_name(w.colour) if w.colour else "colour unknown",
                                  f"({w.colour})" if w.colour else "", w.area_text) if x)
             for w in wires[:3]]
    return where + (f" [{'; '.join(looks)}]" if looks else "")


def condition_text(vehicle: Vehicle, name: str) -> str:
    """Return how the car must stand."""
    if name == BATTERY_OFF:
        return "battery's earth lead off, all switches at rest"
    condition = vehicle.conditions.get(name)
    if condition is None:
        return name
    return f"{condition.label or name} ({_set(vehicle, condition)})"


_BY_ITSELF = ("module", "ignition", "relay")


def _set(vehicle: Vehicle, condition: Condition) -> str:
    """Return what one sets by hand; what modules do by themselves is left out."""
    words = [f"{part}{'' if actuator == 'main' else '.' + actuator} = {position}"
             for (part, actuator), position in condition.positions.items()
             if part not in vehicle.parts or vehicle.parts[part].family not in _BY_ITSELF]
    words += [f"{part} {state}" for (part, _), state in condition.states.items()]
    if condition.moving:
        words.append("driving")
    if condition.engine_running:
        words.append("engine running")
    words += [f"{what} {value:g} C" for what, value in condition.temperatures_c.items()]
    return "; ".join(words[:8]) or "everything at rest"


def result_text(seen: Observation) -> str:
    """Return the result of an observation in a few words."""
    if seen.kind == "volts":
        value = 0.0 if abs(seen.value) < 0.005 else seen.value
        return f"{value:.1f} V" if abs(value) >= 1 or value == 0 else f"{value:.2f} V"
    if seen.kind == "ohms":
        if seen.says:
            return seen.says
        if math.isinf(seen.value):
            return "open (no continuity)"
        if seen.value >= 1000:
            return f"{seen.value / 1000:.3g} kohm"
        return f"{seen.value:.1f} ohm" if seen.value >= 0.95 else f"{seen.value:.2f} ohm"
    if seen.kind == "amps":
        return f"{seen.value:.2g} A"
    return seen.says.replace("-", " ")


def action_title(vehicle: Vehicle, seen: Observation) -> str:
    """Return what to do, in one line."""
    apart = "".join(f", with plug {named(vehicle, p)} apart" for p in seen.unplugged)
    apart += "".join(f", with fuse {named(vehicle, p)} out" for p in seen.pulled)
    match seen.kind:
        case "load":
            return f"Watch {named(vehicle, seen.subject)}: what does it do?"
        case "relay":
            return f"Listen to (or feel) {named(vehicle, seen.subject)}: does it click?"
        case "fuse":
            if seen.condition:
                return (f"Fit a sound fuse of the same rating as {named(vehicle, seen.subject)}: "
                        "does it blow?")
            return f"Look at {named(vehicle, seen.subject)}: is it blown?"
        case "swap":
            return (f"Swap the two alike relays {named(vehicle, seen.subject)} and "
                    f"{named(vehicle, seen.against)}: does that help?")
        case "wiggle":
            return f"Wiggle {named(vehicle, seen.subject)}: does anything change?"
        case "amps":
            return f"Measure the current through {named(vehicle, seen.subject)}{apart}"
        case "ohms":
            return (f"Measure ohms from {point_text(vehicle, seen.subject)} to "
                    f"{point_text(vehicle, seen.against)}{apart}")
        case "lamp":
            return f"Put the test lamp on {point_text(vehicle, seen.subject)}{apart}"
        case _:
            return (f"Measure volts: red lead on {point_text(vehicle, seen.subject)}, black lead "
                    f"on {point_text(vehicle, seen.against)}{apart}")


def setting_text(vehicle: Vehicle, seen: Observation) -> str:
    """Return how the instrument is set, '' when none is needed."""
    high = max(20.0, 10 * math.ceil(vehicle.nominal_v * 1.5 / 10))
    return {"volts": f"meter on DC volts, range {high:g} V, 10 megohm input",
            "ohms": "meter on ohms, lowest range first; touch the leads together and take that off",
            "amps": "clamp meter on DC amperes, or the drop over the fuse",
            "lamp": "test lamp of 2 to 5 W"}.get(seen.kind, "")


def reach_lines(vehicle: Vehicle, seen: Observation) -> Iterator[str]:
    """Yield where it is and how to get at it."""
    names = [seen.subject, *seen.unplugged, *seen.pulled]
    if seen.kind == "swap":
        names.append(seen.against)
    if seen.kind == "load":
        return
    for place in dict.fromkeys(p for name in names for p in places_of_node(vehicle, name)):
        if place not in vehicle.places:
            yield "where: nobody has written down where this is"
            continue
        found = access(vehicle, place)
        label = vehicle.places[place].label or place
        part = part_of_node(vehicle, seen.subject)
        slot = f", slot {part.slot}" if part is not None and part.slot and (
            part.place == place) else ""
        yield f"where: {label} ({place}{slot})"
        for number, (_, text, minutes) in enumerate(found.steps, 1):
            yield f"  {number}. {text}" + (f" ({minutes:g} min)" if minutes else "")


@dataclass(slots=True)
class _Outcome:
    result: Observation
    candidates: list[Candidate] = field(default_factory=list)
    share: float = 0.0


def _same_reading(one: Observation, other: Observation) -> bool:
    """Return whether a person with an instrument takes two results for the same."""
    if one.kind not in METER_WIDTHS or one.says or other.says:
        return result_text(one) == result_text(other)
    if math.isinf(one.value) or math.isinf(other.value):
        return one.value == other.value
    share, floor = METER_WIDTHS[one.kind]
    return abs(one.value - other.value) <= 2 * math.hypot(share * one.value, floor)


def action_lines(weights: Weights, verdict: Verdict, action: Action) -> list[str]:
    """Return everything about one step."""
    predictor = weights.predictor
    vehicle = predictor.bench.vehicle
    seen = action.observation
    lines = [action_title(vehicle, seen)]
    lines += [f"  {line}" for line in reach_lines(vehicle, seen)]
    if seen.condition:
        lines.append(f"  car: {condition_text(vehicle, seen.condition)}")
    setting = setting_text(vehicle, seen)
    if setting:
        lines.append(f"  {setting}")
    lines.append(f"  if all is well: {result_text(answer_as(predictor, seen, ()))}")
    shown: list[_Outcome] = []
    for cause in verdict.causes[:12]:
        result = answer_as(predictor, seen, cause.candidate)
        outcome = next((o for o in shown if _same_reading(o.result, result)), None)
        if outcome is None:
            shown.append(outcome := _Outcome(result))
        outcome.candidates.append(cause.candidate)
        outcome.share += cause.weight
    for outcome in sorted(shown, key=lambda o: -o.share)[:5]:
        text = result_text(outcome.result)
        names = [words_of(predictor, c) for c in outcome.candidates]
        more = f" and {len(names) - 2} more" if len(names) > 2 else ""
        lines.append(f"  {text}: {'; or '.join(names[:2])}{more}")
    lines += [f"  CAUTION: {text}" for text in cautions(vehicle, seen)]
    takes = f"about {action.minutes:.0f} min" if action.minutes >= 1 else "under a minute"
    lines.append(f"  {takes}; leaves about 1 in {2 ** action.bits:.1f} of what is possible now")
    return lines


def _metal(node: str) -> str:
    return f"the metal of the {node[1:]}" if node.startswith("@") else node


def observation_words(vehicle: Vehicle, seen: Observation) -> str:
    """Return an observation as it is told: what, where, in which condition."""
    where = f" in {seen.condition}" if seen.condition and seen.condition != BATTERY_OFF else ""
    apart = "".join(f", {p} unplugged" for p in seen.unplugged)
    match seen.kind:
        case "load" | "relay":
            return f"{named(vehicle, seen.subject)}: {seen.says.replace('-', ' ')}{where}"
        case "fuse":
            fresh = f" (a sound one{where})" if seen.condition else ""
            return f"{named(vehicle, seen.subject)} {seen.says}{fresh}"
        case "swap":
            return f"{seen.subject} swapped with {seen.against}: {seen.says.replace('-', ' ')}"
        case "wiggle":
            return f"{seen.subject} wiggled: {seen.says.replace('-', ' ')}"
        case "amps":
            return f"{result_text(seen)} through {seen.subject}{where}{apart}"
        case _:
            to = f" against {_metal(seen.against)}" if seen.against else ""
            off = " (battery off)" if seen.condition == BATTERY_OFF else ""
            if seen.alone:
                off = " (out of circuit)"
            return f"{result_text(seen)} at {_metal(seen.subject)}{to}{where}{apart}{off}"


def _claim(vehicle: Vehicle, seen: Observation) -> str:
    """Return the line that says so in the vehicle's file, about a wire at the point."""
    wire = next((w.name for w in vehicle.wires.values()
                 if seen.subject in (w.a.node, w.b.node)), "")
    part = part_of_node(vehicle, seen.subject)
    told = quoted(observation_words(vehicle, seen) + ": not as this file has it")
    return f"claim {wire or (part.name if part is not None else seen.subject)} {told} measured" + (
        f" {seen.date}" if seen.date else "")


def _manner(weights: Weights, cause: Cause) -> str:
    """Return how a cause comes and goes, '' when it does not."""
    if not cause.intermittent:
        return ""
    at = weights.candidates.index(cause.candidate)
    if weights.when and weights.bound[at] >= weights.changing[at]:
        return f" (only when {weights.when})"
    return " (comes and goes)"


def _away(weights: Weights, cause: Cause) -> list[int]:
    """Return the observations at which a cause that comes and goes was away: all was well."""
    return [i for i in cause.fails if cause.intermittent and weights.sound[i] >= UNEXPLAINED]


def cause_lines(weights: Weights, verdict: Verdict, most: int = 6) -> list[str]:
    """Return the ranked causes with the reasons for each."""
    vehicle = weights.predictor.bench.vehicle
    lines: list[str] = []
    for rank, group in enumerate(verdict.classes[:most], 1):
        share = verdict.weights[rank - 1]
        first = verdict.causes[group[0]]
        lines.append(f"{rank}. {share:6.1%}  {first.words}{_manner(weights, first)}")
        away = _away(weights, first)
        said = [observation_words(vehicle, weights.seen[i]) for i in first.explains]
        not_said = [observation_words(vehicle, weights.seen[i]) for i in first.fails
                    if i not in away]
        if said:
            lines.append(f"            explains {'; '.join(said[:4])}"
                         + (f" and {len(said) - 4} more" if len(said) > 4 else ""))
        if not_said:
            lines.append(f"            does not explain {'; '.join(not_said[:4])}"
                         + (f" and {len(not_said) - 4} more" if len(not_said) > 4 else ""))
        if away:
            lines.append("            was away at " + "; ".join(
                observation_words(vehicle, weights.seen[i]) for i in away[:3]))
        alike = [i for i in group[1:]
                 if verdict.causes[i].weight >= SHOWN_SHARE * first.weight]
        words = same_words(weights, verdict, rank - 1)
        lines += [f"            {words}: {verdict.causes[i].words}" for i in alike[:3]]
        if len(alike) > 3:
            lines.append(f"            and {len(alike) - 3} more that look the same")
    if verdict.pairs:
        lines.append("No single fault explains everything: two at once are considered.")
    first_away = _away(weights, verdict.causes[verdict.classes[0][0]]) if verdict.classes else []
    odd = [i for i in verdict.contradictions if i not in first_away]
    if odd:
        what = "; ".join(observation_words(vehicle, weights.seen[i]) for i in odd)
        lines.append(f"No cause explains this: {what}. Look again, and if it stays so the diagram "
                     "is wrong there: that is a result too. Write it into the vehicle's file:")
        lines += [f"    {_claim(vehicle, weights.seen[i])}" for i in odd[:3]
                  if not weights.seen[i].subject.startswith("@")]
    return lines
