"""Case -> text in the language, and the saving of it: whole or not at all."""

from __future__ import annotations

import contextlib
import math
import os
import re
import tempfile
from pathlib import Path

from harnessdsl.faults.case import (
    BATTERY_OFF,
    OUT_OF_CIRCUIT,
    SURE,
    UNSURE,
    Case,
    Observation,
)


def quoted(text: str) -> str:
    """Return a text in quotes, as the language reads it."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


_PLAIN = re.compile(r"[^\W\d_][\w.:@+-]*\Z")


def name_text(name: str) -> str:
    """Return a name as a case file writes it: in quotes where it looks like something else."""
    return name if _PLAIN.match(name) or name.startswith("@") else quoted(name)


def figure(value: float, unit: str) -> str:
    """Return a number with four digits and its unit."""
    return f"{float(f'{value:.4g}'):.10g} {unit}"


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
            words = ["read", shown, "at", name_text(seen.subject)]
            if seen.against:
                words += ["against", name_text(seen.against)]
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


def case_text(case: Case) -> str:
    """Return a case file; reading it gives the same case."""
    lines = [" ".join(["case", quoted(case.title), *([case.date] if case.date else []),
                       *(["by", quoted(case.by)] if case.by else [])])]
    if case.vehicle:
        lines.append(f"vehicle {quoted(case.vehicle)}")
    for complaint in case.complaints:
        lines.append(" ".join(["complaint", quoted(complaint.text),
                               *(["when", complaint.when] if complaint.when else []),
                               *([complaint.date] if complaint.date else [])]))
    for one in case.likelihoods:
        lines.append(" ".join(["likelihood", *map(name_text, one.names), f"{one.factor:g}",
                               *([quoted(one.note)] if one.note else [])]))
    for part in case.replaced:
        lines.append(" ".join(["changed", name_text(part.part),
                               *([part.date] if part.date else []), *_sure(part.sure),
                               *([quoted(part.note)] if part.note else [])]))
    for place in case.opened:
        lines.append(f"open {name_text(place)}")
    for refusal in case.refusals:
        lines.append(" ".join(["refused", name_text(refusal.subject),
                               *([quoted(refusal.reason)] if refusal.reason else [])]))
    lines += [observation_text(seen) for seen in case.observations]
    lines += [f"note {quoted(note)}" for note in case.notes]
    if case.found:
        lines.append(f"found {quoted(case.found)}")
    return "\n".join(lines) + "\n"


def save_case(case: Case, path: Path) -> None:
    """Write a case so that at every moment either the old file or the new one is there, whole, even
    when the machine loses its power: to a file beside it, onto the disk, then renamed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(case_text(case))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    with contextlib.suppress(OSError):  # not every file system knows folders on disk
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
