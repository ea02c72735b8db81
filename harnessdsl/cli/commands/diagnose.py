"""`diagnose`: rank the causes of a case and say what to measure next."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.searching import load_case, predictor_for, say_failures, vehicle_for


@click.command()
@click.argument("case", type=click.Path(path_type=Path), metavar="FILE.case")
@click.option("--vehicle", "file", type=click.Path(path_type=Path), metavar="FILE.harness",
              help="The vehicle, where the case does not name it.")
@click.option("--steps", default=1, show_default=True, help="Next steps shown, best first.")
@click.option("--story", is_flag=True, help="Tell the whole story of the case.")
def command(case: Path, file: Path | None, steps: int, story: bool) -> None:
    """Rank what may be wrong by what a case file says was seen, and propose the next step.

    \b
    harnessdsl diagnose fan.case
    harnessdsl diagnose fan.case --vehicle car.harness --steps 3
    """
    from harnessdsl.cli.fault_vehicle import faultable
    from harnessdsl.faults.last_question import last_question
    from harnessdsl.faults.next_measurement import next_actions
    from harnessdsl.faults.ranking import enough, judge, weigh
    from harnessdsl.faults.refusals import allowed, different, possible
    from harnessdsl.faults.step_text import action_lines, cause_lines
    from harnessdsl.faults.story import story_lines

    vehicle = faultable(vehicle_for(case, file)[0])
    record = load_case(case, vehicle)
    predictor = predictor_for(vehicle)
    weights = weigh(predictor, record)
    verdict = judge(weights)
    if story:
        click.echo("\n".join(story_lines(weights, verdict, record)))
        return
    if not record.observations:
        click.echo("The case says nothing yet of what was seen, such as: saw M2 dead in hot-idle. "
                   "'harnessdsl ask' asks for it. Before anything is seen, the likeliest are:")
    click.echo("\n".join(cause_lines(weights, verdict)))
    if steps <= 0:
        return
    actions = different(possible(record, weights, next_actions(weights, record)))
    last = last_question(weights, verdict, record) if enough(weights, verdict) else None
    if last is not None and allowed(record, last.observation):
        actions.insert(0, last)
    if not actions:
        click.echo("\nNothing that could be measured tells the rest apart: open the likeliest.")
    for number, action in enumerate(actions[:steps], 1):
        click.echo("")
        click.echo("Next:" if number == 1 else "Or:")
        click.echo("\n".join(action_lines(weights, verdict, action)))
    say_failures(predictor)
