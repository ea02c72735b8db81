"""What works differently, in words and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from harnessdsl.diagnostics import to_json
from harnessdsl.plans.behaviour import VOLTS_LEAST, Behaviour, Drain, FuseChange, LoadChange


def behaviour_text(behaviour: Behaviour) -> list[str]:
    """Return the differences as lines."""
    if not behaviour:
        count = len(behaviour.conditions)
        word = "condition" if count == 1 else "conditions"
        return [f"Behaviour: no difference in {count} {word}"]
    lines = [f"Behaviour, compared in {len(behaviour.conditions)} conditions"]
    for title, sign, findings in (("Findings that are new", "+", behaviour.new_findings),
                                  ("Findings that are gone", "-", behaviour.gone_findings)):
        if findings:
            lines += ["", f"{title}: {len(findings)}"]
            lines += [f"  {sign} {f.severity.word}[{f.code}]"
                      f"{' (accepted)' if f.accepted is not None else ''}: {f.message}"
                      for f in findings]
    if behaviour.loads:
        lines += ["", "Loads that work differently"]
        lines += _load_lines(behaviour.loads)
    if behaviour.drops:
        lines += ["", f"Loads at another voltage (by {VOLTS_LEAST:g} V or more)"]
        lines += [f"  {_load_name(c)}: {c.before_v:.2f} V -> {c.after_v:.2f} V "
                  f"({c.after_v - c.before_v:+.2f} V) in {c.condition}" for c in behaviour.drops]
    if behaviour.fuses:
        lines += ["", "Fuses, at their highest load"]
        lines += [f"  {_fuse_line(change)}" for change in behaviour.fuses]
    drain = behaviour.drain
    if drain is not None and drain.changed:
        lines += ["", f"Drain at rest: {drain.before_a * 1000:.1f} mA -> "
                  f"{drain.after_a * 1000:.1f} mA{_days(drain)}"]
    for title, warnings in (("New in the computed circuit", behaviour.new_warnings),
                            ("Gone from the computed circuit", behaviour.gone_warnings)):
        if warnings:
            lines += ["", title, *(f"  {condition}: {message}" for condition, message in warnings)]
    if behaviour.only_in_one:
        lines += ["", "Conditions that only one file declares: " + ", ".join(behaviour.only_in_one)]
    return lines


def _load_name(change: LoadChange) -> str:
    name = f" {change.name}" if change.name else ""
    return f"{change.part}{name}{f' {chr(34)}{change.label}{chr(34)}' if change.label else ''}"


def _load_lines(changes: Sequence[LoadChange]) -> list[str]:
    """Return one line for each load and way of changing, with its conditions together."""
    groups: dict[tuple[str, str, str], list[LoadChange]] = {}
    for change in changes:
        groups.setdefault((_load_name(change), change.before_state, change.after_state),
                          []).append(change)
    lines = []
    for (name, before, after), members in groups.items():
        words = {"": "not there"}
        volts = ""
        if before and after:
            volts = f", {members[0].before_v:.1f} V -> {members[0].after_v:.1f} V"
        conditions = ", ".join(change.condition for change in members)
        lines.append(f"  {name}: {words.get(before, before)} -> {words.get(after, after)}{volts}"
                     f"  in {conditions}")
    return lines


def _fuse_line(change: FuseChange) -> str:
    def side(current: float | None, rating: float | None) -> str:
        if current is None:
            return "not there"
        share = f" = {current / rating:.0%} of {rating:g} A" if rating else ""
        return f"{current:.1f} A{share}"

    opens = {"before": "; it opened before", "after": "; it opens now", "both": "; it opens",
             "": ""}[change.opens]
    label = f' "{change.label}"' if change.label else ""
    return (f"{change.part}{label}: {side(change.before_a, change.before_rating_a)} -> "
            f"{side(change.after_a, change.after_rating_a)} in {change.condition}{opens}")


def _days(drain: Drain) -> str:
    if drain.before_days is None and drain.after_days is None:
        return ""

    def days(value: float | None) -> str:
        return "no limit" if value is None else f"{value:.0f} days"

    return (f" (half of the battery in {days(drain.before_days)} -> {days(drain.after_days)}; "
            "its own discharge not counted)")


def behaviour_data(behaviour: Behaviour) -> dict[str, Any]:
    """Return the differences as plain data; the keys are stable, figures are rounded."""
    def rounded(value: Any) -> Any:
        if isinstance(value, float):
            return round(value, 4)
        if isinstance(value, dict):
            return {key: rounded(item) for key, item in value.items()}
        return value

    return {
        "conditions": list(behaviour.conditions), "only_in_one": list(behaviour.only_in_one),
        "new_findings": [to_json(f) for f in behaviour.new_findings],
        "gone_findings": [to_json(f) for f in behaviour.gone_findings],
        "loads": [rounded(asdict(change)) for change in behaviour.loads],
        "drops": [rounded(asdict(change)) for change in behaviour.drops],
        "fuses": [rounded(asdict(change)) for change in behaviour.fuses],
        "drain": rounded(asdict(behaviour.drain)) if behaviour.drain is not None else None,
        "new_warnings": [list(pair) for pair in behaviour.new_warnings],
        "gone_warnings": [list(pair) for pair in behaviour.gone_warnings],
    }
