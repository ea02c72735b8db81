"""What `compare` and `plan` share: reading two vehicles, comparing and drawing them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harnessdsl.cli.loading import overlays, print_diagnostics, selection, write_text
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import Result, build_facts, check_result
from harnessdsl.plans.arrange import Facts, arrange
from harnessdsl.plans.compare import Comparison, compare
from harnessdsl.plans.stack import Stack, put_text_on_top, read_stack

if TYPE_CHECKING:
    from harnessdsl.plans.behaviour import Behaviour
    from harnessdsl.plans.cut_list import CutWire, Shopping
    from harnessdsl.plans.work_order import Step


@dataclass(frozen=True, slots=True)
class Side:
    """One vehicle, and the facts that it was built from."""

    result: Result
    facts: Facts

    @property
    def vehicle(self) -> Vehicle:
        return self.result.vehicle

    @property
    def title(self) -> str:
        return ", ".join(filter(None, (self.vehicle.name, self.vehicle.build, self.vehicle.year)))


def _side(file: Path, upto: int | None, on_top: tuple[Path, ...]) -> Side:
    return _both(read_stack(file, on_top), upto)


def _both(stack: Stack, upto: int | None) -> Side:
    facts = arrange(stack, selection(), upto)
    return Side(build_facts(facts), facts)


def read_pair(before: Path, after: Path | None) -> tuple[Side, Side]:
    """Return both vehicles, or print what is wrong with them and end with status 1 or 2."""
    if after is not None:
        pair = _side(before, None, overlays()), _side(after, None, overlays())
    else:
        stack = read_stack(before, overlays())
        if stack.readable and len(stack.layers) < 2:
            raise click.UsageError(f"'{before}' builds on no other file: name a second one to "
                                   "compare it with")
        # the head's problems are in both: they are told once
        pair = _side(before, max(1, len(stack.layers) - 1), overlays()), _side(before, None,
                                                                              overlays())
    _refuse_broken(pair, (before, after or before))
    return pair


def _refuse_broken(pair: tuple[Side, Side], files: tuple[Path, Path]) -> None:
    broken = False
    told: set[Any] = set()
    for side in pair:
        print_diagnostics([d for d in side.result.diagnostics if d not in told],
                          side.result.sources)
        told.update(side.result.diagnostics)
        broken = broken or side.result.broken
    if broken:
        click.echo("nothing was compared or written.", err=True)
        unread = [file for side, file in zip(pair, files, strict=True)
                  if str(file) not in side.result.sources]
        raise SystemExit(2 if unread else 1)


def read_plan(plan: Path, base: Path | None) -> tuple[Side, Side]:
    """Return the vehicle before and after a plan, or print what is wrong and end."""
    if base is None:
        return read_pair(plan, None)
    stack = read_stack(base, (*overlays(), plan))
    pair = (_side(base, None, overlays()),
            _both(stack, None))
    _refuse_broken(pair, (base, plan))
    return pair


@dataclass(frozen=True, slots=True)
class Compared:
    """Everything that was found about two vehicles."""

    before: Side
    after: Side
    comparison: Comparison
    behaviour: Behaviour | None = None

    @property
    def differs(self) -> bool:
        return bool(self.comparison) or bool(self.behaviour)

    def lines(self) -> list[str]:
        from harnessdsl.plans.behaviour_text import behaviour_text
        from harnessdsl.plans.compare_text import comparison_text

        lines = [f"before: {self.before.title}", f"after:  {self.after.title}", ""]
        lines += comparison_text(self.comparison, self.before.vehicle, self.after.vehicle)
        if self.behaviour is not None:
            lines += ["", *behaviour_text(self.behaviour)]
        return lines

    def data(self) -> dict[str, Any]:
        from harnessdsl.plans.compare_text import comparison_data

        data = comparison_data(self.comparison, self.before.vehicle, self.after.vehicle)
        if self.behaviour is not None:
            from harnessdsl.plans.behaviour_text import behaviour_data

            data["behaviour"] = behaviour_data(self.behaviour)
        return data


def compare_pair(pair: tuple[Side, Side], remarks: bool, behaviour: bool, overlaid: bool
                 ) -> Compared:
    """Compare both sides; `overlaid` when the second is the first with an overlay on it."""
    before, after = pair
    comparison = compare(before.vehicle, after.vehicle, remarks, overlaid)
    if not behaviour or not comparison:
        return Compared(before, after, comparison)
    from harnessdsl.plans.behaviour import compare_behaviour

    findings = [check_result(side.result, figures=True).diagnostics for side in pair]
    return Compared(before, after, comparison, compare_behaviour(
        before.vehicle, after.vehicle, comparison, *findings))


@dataclass(frozen=True, slots=True)
class PlanReport:
    """The report on a plan; `shown` names its parts."""

    found: Compared
    cuts: list[CutWire]
    bought: Shopping
    steps: list[Step]
    allowance: float
    shown: tuple[str, ...]

    def lines(self) -> list[str]:
        from harnessdsl.plans.behaviour_text import behaviour_text
        from harnessdsl.plans.compare_text import comparison_text
        from harnessdsl.plans.cut_list_text import cut_list_text, shopping_text
        from harnessdsl.plans.work_text import work_text

        before, after = self.found.before, self.found.after
        lines = [f"before: {before.title}", f"after:  {after.title}"]
        if "changes" in self.shown:
            lines += ["", *comparison_text(self.found.comparison, before.vehicle, after.vehicle)]
        if "behaviour" in self.shown and self.found.behaviour is not None:
            lines += ["", *behaviour_text(self.found.behaviour)]
        if "cut" in self.shown:
            lines += ["", *cut_list_text(self.cuts, self.allowance)]
        if "parts" in self.shown:
            lines += ["", *shopping_text(self.bought)]
        if "work" in self.shown:
            lines += ["", *work_text(self.steps)]
        return lines

    def data(self) -> dict[str, Any]:
        from harnessdsl.plans.cut_list_text import cut_list_data
        from harnessdsl.plans.work_text import work_data

        return {**self.found.data(), **cut_list_data(self.cuts, self.bought),
                "work": work_data(self.steps)}


def plan_report(found: Compared, allowance: float, shown: tuple[str, ...]) -> PlanReport:
    """Return everything that there is to say about a plan."""
    from harnessdsl.plans.cut_list import shopping, wires_to_cut
    from harnessdsl.plans.work_order import work_order

    before, after = found.before.vehicle, found.after.vehicle
    cuts = wires_to_cut(before, after, found.comparison, allowance)
    return PlanReport(found, cuts, shopping(before, after, found.comparison, cuts),
                      work_order(before, after, found.comparison, found.behaviour.loads
                                 if found.behaviour else ()) if "work" in shown else [],
                      allowance, shown)


def write_overlay(found: Compared, file: Path, is_overlay: bool, target: Path) -> None:
    """Write the overlay that turns the first vehicle into the second, or say why it can't be.

    It is tried before it is written: nothing is written that does not do what it should.
    """
    from harnessdsl.plans.overlay_writer import OverlayWriter, Written

    base = Path(read_stack(file).layers[-2].path) if is_overlay else file
    if target.resolve().parent != base.resolve().parent:
        raise click.UsageError(f"put the overlay beside its base: {base.parent / target.name}")
    if target.resolve() in (base.resolve(), file.resolve()):
        raise click.UsageError(f"'{target}' is one of the files that are compared")
    before, after = found.before, found.after
    writer = OverlayWriter(Written(before.vehicle, before.facts.facts),
                           Written(after.vehicle, after.facts.facts), found.comparison)
    chosen = selection()
    lines = [f"with {name.replace('=', ' ')}" for name in chosen.with_names]
    lines += [f"without {name}" for name in chosen.without_names]
    lines += [f"{word} {value}" for word, value in (("chassis", chosen.chassis),
                                                    ("built", chosen.built)) if value]
    text = writer.write(after.vehicle.build or after.title or "what differs", base.name, lines)
    stack = read_stack(base, () if is_overlay else overlays())
    put_text_on_top(stack, text, str(target))
    tried = _both(stack, None)
    if tried.result.broken or compare(tried.vehicle, after.vehicle):
        print_diagnostics(tried.result.diagnostics, tried.result.sources)
        raise click.ClickException("what differs can't be written as an overlay; nothing was "
                                   "written")
    write_text(target, text)
    click.echo(f"{target}: written", err=True)


def draw(found: Compared, base: Path, folder: Path) -> None:
    """Draw the sheets and the map on which something differs, with the differences marked."""
    from harnessdsl.drawing import maps
    from harnessdsl.drawing.beads import Annotation, Annotations
    from harnessdsl.drawing.schematic import SchematicOptions, draw_schematics
    from harnessdsl.drawing.svg import render_svg
    from harnessdsl.model.layout_shelf import load_layout
    from harnessdsl.model.location import plain_layout
    from harnessdsl.model.wire_builder import place_position
    from harnessdsl.plans.marked_vehicle import ALL_CHANGES, LEGEND, mark_differences

    before, after = found.before.vehicle, found.after.vehicle
    marked = mark_differences(before, after, found.comparison)
    annotations = Annotations(
        {name: Annotation(mark.text, mark.state) for name, mark in marked.wires.items()},
        {name: Annotation(mark.text, mark.state) for name, mark in marked.parts.items()},
        state_names={"marked": "new or changed", "dead": "taken out"})
    notes = f"{LEGEND}. Against: {found.before.title}."
    pages = draw_schematics(marked.vehicle, SchematicOptions(notes=notes), annotations)
    wanted = {marked.vehicle.circuits[name].label or name for name in marked.circuits}
    pages = [page for page in pages
             if any(page.title == title or page.title.startswith(f"{title} (")
                    for title in wanted)]
    if marked.map_vehicle.circuits[ALL_CHANGES].parts:
        layout = load_layout(after.body, base.parent, after.span).layout or plain_layout(
            {name: position for name in after.places
             if (position := place_position(after.places, name)) is not None})
        pages += maps.draw_maps(marked.map_vehicle, layout, highlight=ALL_CHANGES)
    for page in pages:
        write_text(folder / f"{page.name}.svg", render_svg(page))
    click.echo(f"{folder}: {len(pages)} {'sheet' if len(pages) == 1 else 'sheets'}", err=True)
