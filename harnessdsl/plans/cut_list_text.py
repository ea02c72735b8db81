"""Cut list and parts list in words, with boxes to tick, and as plain data."""

from __future__ import annotations

from typing import Any

from harnessdsl.model.colour import colour_name
from harnessdsl.plans.cut_list import (
    ALLOWANCE_ENDS_M,
    ALLOWANCE_SHARE,
    CutWire,
    Shopping,
)


def cut_list_text(cuts: list[CutWire], share: float = ALLOWANCE_SHARE) -> list[str]:
    """Return the cut list as lines; `share` is what was added to the lengths."""
    if not cuts:
        return ["No wire has to be cut."]
    lines = [f"Cut list: {len(cuts)} wires. Lengths hold {share:.0%} and "
             f"{ALLOWANCE_ENDS_M * 100:.0f} cm for the ends, rounded up; measure on the car before "
             "you cut."]
    for cut in cuts:
        length = "length to be measured" if cut.cut_m is None else (
            f"cut {cut.cut_m:.2f} m (runs {cut.length_m:.2f} m"
            f"{', estimated from the places' if cut.estimated else ''})")
        lines.append(f"  [ ] {cut.ends[0].at} to {cut.ends[1].at}: {cut.looks}"
                     f" ({colour_name(cut.wire.colour)}), {length}")
        for end in cut.ends:
            where = f" in {end.place}" if end.place else ""
            lines.append(f"        {end.at}{where}: {end.terminal}"
                         f"{', ' + end.seal if end.seal else ''}")
    return lines


def shopping_text(bought: Shopping) -> list[str]:
    """Return the parts list as lines."""
    lines = ["Parts list"]
    lines += [f"  [ ] {line.count} x {line.what}: {', '.join(line.names)}"
              for line in bought.parts] or ["  no parts"]
    if bought.wire:
        lines += ["Wire", *(f"  [ ] {metres:.2f} m {looks}, {count} "
                            f"{'piece' if count == 1 else 'pieces'}"
                            for looks, metres, count in bought.wire)]
    if bought.terminals:
        lines += ["Terminals", *(f"  [ ] {count} x {what}" for what, count in bought.terminals)]
    if bought.seals:
        lines += ["Seals", *(f"  [ ] {count} x {what}" for what, count in bought.seals)]
    if bought.splices:
        lines += ["Splices", *(f"  [ ] {name}: {what}" for name, what in bought.splices)]
    if bought.free:
        lines += ["No longer needed", *(f"      {line.count} x {line.what}: "
                                        f"{', '.join(line.names)}" for line in bought.free)]
    return lines


def cut_list_data(cuts: list[CutWire], bought: Shopping) -> dict[str, Any]:
    """Return both lists as plain data; the keys are stable."""
    return {
        "cut_list": [
            {"wire": cut.name, "area_mm2": cut.wire.area_mm2, "area": cut.wire.area_text,
             "colour": cut.wire.colour, "insulation": cut.wire.insulation,
             "length_m": None if cut.length_m is None else round(cut.length_m, 3),
             "estimated": cut.estimated,
             "cut_m": None if cut.cut_m is None else round(cut.cut_m, 3),
             "ends": [{"at": e.at, "place": e.place, "terminal": e.terminal, "seal": e.seal}
                      for e in cut.ends]}
            for cut in cuts],
        "parts": [{"count": p.count, "what": p.what, "names": list(p.names)}
                  for p in bought.parts],
        "wire": [{"looks": looks, "metres": metres, "pieces": count}
                 for looks, metres, count in bought.wire],
        "terminals": [{"what": what, "count": count} for what, count in bought.terminals],
        "seals": [{"what": what, "count": count} for what, count in bought.seals],
        "splices": [{"name": name, "what": what} for name, what in bought.splices],
        "free": [{"count": p.count, "what": p.what, "names": list(p.names)} for p in bought.free],
    }
