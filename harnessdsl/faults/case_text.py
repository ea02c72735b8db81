"""Case -> text in the language, and the saving of it: whole or not at all."""

from __future__ import annotations

import contextlib
import math
import os
import tempfile
from pathlib import Path

from harnessdsl.faults.case import BATTERY_OFF, SURE, UNSURE, Case, Observation


def quoted(text: str) -> str:
    """Return a text in quotes, as the language reads it."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


def figure(value: float, unit: str) -> str:
    """Return a number with four digits and its unit."""
    return f"{float(f'{value:.4g}'):.10g} {unit}"


def observation_text(seen: Observation) -> str:
    """Return one observation as a line of a case file."""
    match seen.kind:
        case "load" | "fuse" | "relay":
            words = ["saw", seen.subject, seen.says]
        case "swap":
            words = ["swapped", seen.subject, seen.against, seen.says]
        case "wiggle":
            words = ["wiggled", seen.subject, seen.says]
        case "amps":
            words = ["read", figure(seen.value, "A"), "through", seen.subject]
        case _:
            if seen.kind == "lamp":
                shown = seen.says
            elif seen.kind == "ohms":
                shown = seen.says or (
                    "open" if math.isinf(seen.value) else figure(seen.value, "ohm"))
            else:
                shown = figure(seen.value, "V")
            words = ["read", shown, "at", seen.subject]
            if seen.against:
                words += ["against", seen.against]
    for plug in seen.unplugged:
        words += ["unplugged", plug]
    for fuse in seen.pulled:
        words += ["pulled", fuse]
    if seen.condition == BATTERY_OFF:
        words.append(BATTERY_OFF)
    elif seen.condition:
        words += ["in", seen.condition]
    if seen.date:
        words.append(seen.date)
    if seen.sure == SURE:
        words.append("sure")
    elif seen.sure == UNSURE:
        words.append("unsure")
    if seen.note:
        words.append(quoted(seen.note))
    return " ".join(words)


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
    for name, factor in case.likelihoods:
        lines.append(f"likelihood {quoted(name)} {factor:g}")
    for part in case.replaced:
        lines.append(" ".join(["changed", part.part, *([part.date] if part.date else []),
                               *([quoted(part.note)] if part.note else [])]))
    for place in case.opened:
        lines.append(f"open {place}")
    for refusal in case.refusals:
        lines.append(" ".join(["refused", refusal.subject,
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
