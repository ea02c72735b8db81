"""Two halves of a plug that do not belong together.

What
    The halves of an in-line connector disagree in their number of ways, are both male or both
    female, or have different shells (errors); or the wires on the two sides of one cavity differ in
    colour or in size (warnings). A connector that plugs onto a part has a cavity that the part does
    not have (an error).

Why
    Halves that differ do not mate, so one of them belongs elsewhere. Wires of the loom keep their
    colour and size through a plug; where they do not, two wires are usually swapped. Some makers
    did change the colour on purpose: accept it then.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    connector X1 "Lamp plug"  2 way {
        half a male
        half b male
    }
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1 -> E5.1  1 mm2 GY
    wire E5.2 -> X1.b.2  1 mm2 BN
    wire X1.a.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    connector X1 "Lamp plug"  2 way {
        half a male
        half b female
    }
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1 -> E5.1  1 mm2 GY
    wire E5.2 -> X1.b.2  1 mm2 BN
    wire X1.a.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import ConnectorBody, Half, Part, Wire
from harnessdsl.rules.analysis.shared_cavities import MARK
from harnessdsl.rules.analysis.wording import area_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule
from harnessdsl.text import Span

_SIZE_TOLERANCE = 0.12
"""AWG and metric sizes of one wire differ by up to this share: 18 AWG is 0.82 mm2, sold as 0.75."""


@rule("mating-halves", Severity.ERROR)
def mating_halves(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        body = part.connector
        if body is None:
            continue
        yield from _bodies(part, body)
        if body.of:
            yield from _on_part(context, part, body)
        else:
            for cavity in body.cavities:
                yield from _cavity(context, part, cavity)


def _span(part: Part, half: Half) -> Span:
    return half.span if half.span.line else part.name_span


def _bodies(part: Part, body: ConnectorBody) -> Iterator[Diagnostic]:
    a, b = body.halves.get("a", Half()), body.halves.get("b", Half())
    about = part_words(part)

    def error(message: str, hint: str, half: Half) -> Diagnostic:
        other = a if half is b else b
        return Diagnostic(Severity.ERROR, "mating-halves", message, _span(part, half), hint,
                          (Related("the other half", _span(part, other)),), part.name)

    if a.gender and a.gender == b.gender:
        yield error(f"both halves of {about} are {a.gender}, so they do not mate",
                    f"one of them is {'female' if a.gender == 'male' else 'male'}", b)
    ways = len([c for c in body.cavities if MARK not in c])
    if a.ways is not None and b.ways is not None and a.ways != b.ways:
        yield error(f"half a of {about} has {a.ways} ways, half b has {b.ways}",
                    "count the cavities; halves that differ belong to different plugs", b)
    else:
        for name, half in (("a", a), ("b", b)):
            if half.ways is not None and ways and half.ways != ways:
                yield error(f"half {name} of {about} has {half.ways} ways, the plug {ways}",
                            "let both agree", half)
    if a.shell and b.shell and a.shell != b.shell:
        yield error(f"the shells of {about} differ: '{a.shell}' and '{b.shell}', so they do not "
                    "mate", "look again which half belongs here", b)


def _on_part(context: RuleContext, part: Part, body: ConnectorBody) -> Iterator[Diagnostic]:
    target = context.vehicle.parts.get(body.of)
    if target is None or target.kind.any_terminals or not target.kind.terminals:
        return
    missing = [c for c in body.cavities if target.kind.terminal(c) is None]
    if missing and len(missing) < len(body.cavities):
        yield Diagnostic(
            Severity.ERROR, "mating-halves",
            f"plug {part_words(part)} has cavities that {part_words(target)} has no terminals "
            f"for: {', '.join(missing[:8])}",
            part.name_span, "its terminals are " + ", ".join(list(target.kind.terminals)[:16]),
            (Related("the part", target.name_span),), part.name)


def _cavity(context: RuleContext, part: Part, cavity: str) -> Iterator[Diagnostic]:
    on_a = context.wires_at.get(f"{part.name}.a.{cavity}", ())
    on_b = context.wires_at.get(f"{part.name}.b.{cavity}", ())
    if len(on_a) != 1 or len(on_b) != 1:
        return
    a, b = on_a[0], on_b[0]
    where = f"cavity {cavity.partition(MARK)[0]} of {part_words(part)}"
    if a.colour and b.colour and a.colour != b.colour:
        yield _differ(a, b, part,
                      f"the wire changes from {a.colour} to {b.colour} in {where}: '{a.name}' on "
                      f"half a, '{b.name}' on half b",
                      "are two cavities swapped? a wire keeps its colour through a plug", "colour")
    if a.area_mm2 and b.area_mm2 and abs(a.area_mm2 - b.area_mm2) > (
            _SIZE_TOLERANCE * min(a.area_mm2, b.area_mm2)):
        yield _differ(a, b, part,
                      f"the wire changes from {area_words(a)} to {area_words(b)} in {where}: "
                      f"'{a.name}' on half a, '{b.name}' on half b",
                      "measure both; the thinner one decides what fuse is right", "area")


def _differ(a: Wire, b: Wire, part: Part, message: str, hint: str, what: str) -> Diagnostic:
    def place(wire: Wire) -> Span:
        span = wire.colour_span if what == "colour" else wire.area_span
        return span if span.line else wire.span

    first, last = sorted((place(a), place(b)))
    related = (Related("the other side", first),) if first != last else ()
    return Diagnostic(Severity.WARNING, "mating-halves", message, last, hint,
                      (*related, Related("the plug", part.name_span)), part.name)
