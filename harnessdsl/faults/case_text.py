"""Case -> text in the language."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from harnessdsl.faults.case import (
    BATTERY_OFF,
    OUT_OF_CIRCUIT,
    SURE,
    UNSURE,
    Case,
    Complaint,
    Observation,
    Refusal,
)
from harnessdsl.model.failures import Likelihood

MOST_CHARACTERS = 500
"""Longer texts are cut: a case is to be read by a person."""


def quoted(text: str) -> str:
    """Return a text in quotes, as the language reads it."""
    clean = "".join(c if c.isprintable() else " " for c in text)[:MOST_CHARACTERS]
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


_PLAIN = re.compile(r"[^\W\d_][\w.:@+-]*\Z")


def name_text(name: str) -> str:
    """Return a name as a case file writes it: in quotes where it looks like something else."""
    return name if _PLAIN.match(name) else quoted(name)


def figure(value: float, unit: str) -> str:
    """Return a number with four digits and its unit, without an exponent: the language has none."""
    text = f"{float(f'{value:.4g}'):.6f}".rstrip("0").rstrip(".")
    return f"{'0' if text in ('', '-0') else text} {unit}"


def observation_text(seen: Observation) -> str:
    """Return one observation as a line of a case file."""
    match seen.kind:
        case "load" | "fuse" | "relay":
            words = ["saw", name_text(seen.subject), seen.says]
        case "swap":
            words = ["swapped", name_text(seen.subject), name_text(seen.against), seen.says]
        case "wiggle":
            words = ["wiggled", name_text(seen.subject), seen.says]
        case "amps":
            words = ["read", figure(seen.value, "A"), "through", name_text(seen.subject)]
        case _:
            if seen.kind == "lamp":
                shown = seen.says
            elif seen.kind == "ohms":
                shown = seen.says or (
                    "open" if math.isinf(seen.value) else figure(seen.value, "ohm"))
            else:
                shown = figure(seen.value, "V")
            words = ["read", shown, "at", name_text(seen.subject.removeprefix("@"))]
            if seen.against:
                words += ["against", name_text(seen.against.removeprefix("@"))]
    for plug in seen.unplugged:
        words += ["unplugged", name_text(plug)]
    for fuse in seen.pulled:
        words += ["pulled", name_text(fuse)]
    if seen.alone:
        words.append(OUT_OF_CIRCUIT)
    elif seen.condition == BATTERY_OFF:
        words.append(BATTERY_OFF)
    elif seen.condition:
        words += ["in", name_text(seen.condition)]
    if seen.date:
        words.append(seen.date)
    words += _sure(seen.sure)
    if seen.note:
        words.append(quoted(seen.note))
    return " ".join(words)


def _sure(chance: float) -> list[str]:
    return ["sure"] if chance == SURE else ["unsure"] if chance == UNSURE else []


def case_lines(case: Case) -> list[str]:
    """Return the lines of a case file; reading them gives the same case."""
    lines = [head_text(case)] if case.title else []
    if case.vehicle:
        lines.append(f"vehicle {quoted(case.vehicle)}")
    lines += [complaint_text(complaint) for complaint in case.complaints]
    lines += [likelihood_text(one) for one in case.likelihoods]
    lines += [" ".join(["changed", name_text(one.part), *([one.date] if one.date else []),
                        *_sure(one.sure), *([quoted(one.note)] if one.note else [])])
              for one in case.replaced]
    lines += [f"open {name_text(place)}" for place in case.opened]
    lines += [refusal_text(refusal) for refusal in case.refusals]
    lines += [observation_text(seen) for seen in case.observations]
    lines += [f"note {quoted(note)}" for note in case.notes]
    if case.found:
        lines.append(found_text(case.found))
    return lines


def head_text(case: Case) -> str:
    """Return the line that names a case."""
    return " ".join(["case", quoted(case.title), *([case.date] if case.date else []),
                     *(["by", quoted(case.by)] if case.by else [])])


def complaint_text(complaint: Complaint) -> str:
    return " ".join(["complaint", quoted(complaint.text),
                     *(["when", complaint.when] if complaint.when else []),
                     *([complaint.date] if complaint.date else []), *_sure(complaint.sure)])


def likelihood_text(one: Likelihood) -> str:
    return " ".join(["likelihood", *map(name_text, one.names), f"{one.factor:g}",
                     *([quoted(one.note)] if one.note else [])])


def refusal_text(refusal: Refusal) -> str:
    return " ".join(["refused", name_text(refusal.subject),
                     *([quoted(refusal.reason)] if refusal.reason else [])])


def found_text(found: Iterable[str]) -> str:
    return " ".join(["found", *map(quoted, found)])


def case_text(case: Case) -> str:
    """Return a whole case file."""
    return "\n".join(case_lines(case)) + "\n"
