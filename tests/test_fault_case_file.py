"""Case files: every sort of line is read, written back alike, and counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.case_reader import read_case_text
from harnessdsl.faults.case_text import case_text, observation_text
from harnessdsl.faults.made_conditions import with_conditions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import Weights, start, weigh
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load, load_string

ROOT = Path(__file__).resolve().parent.parent
FAN = ROOT / "examples" / "radiator-fan.harness"

WHOLE = """case "Fan dead" 2026-05-03 by "Ilse Brandner"
vehicle "radiator-fan.harness"
complaint "Fan never runs" when hot 2026-05-02 unsure
likelihood K2 contact-burnt 3 "stood in the wet"
likelihood relay-diode 2
likelihood dash-box 1.5
changed S9 2026-04-28 unsure "a used one"
changed F7.2-K2.30 sure
open dash-box
refused radiator "shroud in the way"
refused engine-warm
refused amperes "no clamp"
saw M3 dead in engine-warm 2026-05-03 sure
saw M3 intermittent in engine-warm
saw F7 whole
saw F7 blown in engine-warm
saw K2 clicks in engine-warm
read 13.6 V at K2.30 in engine-warm 2026-05-03 unsure "meter on its last legs"
read 0.3 V at M3.- against body in engine-warm
read bright at K2.30 in engine-warm
read 80 ohm at K2.85 against K2.86 out-of-circuit
read 80 ohm at K2.85 against K2.86 battery-off
read open at X5.a.1 unplugged X5 battery-off
read continuity at X5.b.2 battery-off
read 12.4 V at K2.30 pulled K2 in engine-warm
read 16 A through F7 in engine-warm
read 0.2 A through F7.2-K2.30 in engine-warm
swapped K2 K2 no-change in engine-warm
wiggled X5 helped in engine-warm
note "two winters outside"
found "coil-open:K2:K2:coil:86-85" "the plug was green too"
"""


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    return with_conditions(load(FAN).vehicle)


@pytest.fixture(scope="module")
def predictor(vehicle: Vehicle) -> Predictor:
    return Predictor(run_sweep(Bench.of(vehicle)))


def read(text: str, vehicle: Vehicle) -> Case:
    case, messages, _ = read_case_text(text, vehicle)
    assert not messages, [m.message for m in messages]
    return case


def test_every_line_is_read_and_written_back(vehicle: Vehicle) -> None:
    case = read(WHOLE, vehicle)
    assert case_text(case) == WHOLE
    assert len(case.observations) == 17
    assert case.replaced[0].sure < case.replaced[1].sure
    assert case.found == ("coil-open:K2:K2:coil:86-85", "the plug was green too")


def test_a_whole_case_can_be_weighed(vehicle: Vehicle, predictor: Predictor) -> None:
    weights = weigh(predictor, read(WHOLE, vehicle))
    assert np.isfinite(weights.normal()).all()
    assert len(weights.seen) == 17


@pytest.mark.parametrize(("line", "says"), [
    ("saw K2 dead in engine-warm", "what does 'K2' do?"),
    ("saw X5 dead in engine-warm", "neither lights"),
    ("saw M3 dead", "in which condition?"),
    ("saw M3 dead in nowhere", "no condition 'nowhere'"),
    ("saw M33 dead in engine-warm", "no part 'M33'"),
    ("read 12 V at K2.99 in engine-warm", "no terminal '99'"),
    ("read 12 V at X5.a.9 in engine-warm", "no cavity '9'"),
    ("read 12 at K2.30 in engine-warm", "what did the instrument show?"),
    ("read 3 A through M3 in engine-warm", "neither fuse nor wire"),
    ("read 3 A through nothing in engine-warm", "nothing is called"),
    ("read 80 ohm at K2.85 against F7.1 out-of-circuit", "one part"),
    ("read 80 ohm at K2.85 out-of-circuit", "one part"),
    ("read 12 V at K2.30 in engine-warm with finger", "with what?"),
    ("changed radiator", "nothing is called"),
    ("refused the", "nothing is called"),
    ("open bonnet", "no place 'bonnet'"),
    ("likelihood K2", "needs a way to fail"),
    ("likelihood K2 -1", "needs a way to fail"),
    ("likelihood nothing 3", "nothing is called"),
    ("complaint \"x\" when raining", "hot or moving"),
    ("swapped K2 K2 maybe in engine-warm", "did it help?"),
    ("peeked M3", "nothing that a case file says"),
    ("saw M3 dead in engine-warm purple", "purple"),
])
def test_wrong_lines_are_told_at_the_word(line: str, says: str, vehicle: Vehicle) -> None:
    _, messages, _ = read_case_text(f'case "x"\n{line}\n', vehicle)
    assert messages and any(says in m.message for m in messages), [m.message for m in messages]
    assert all(m.span.line == 2 for m in messages)


def test_every_terminal_can_be_read(vehicle: Vehicle, predictor: Predictor) -> None:
    """No point that the reader takes is one that the computation does not know."""
    lines = ['case "x"']
    for part in vehicle.parts.values():
        names = [f"{half}.{c}" for half in "ab" for c in part.connector.cavities] if (
            part.connector is not None) else list(part.kind.terminals)
        lines += [f"read 1 V at {part.name}{'.' if name else ''}{name} in key-on"
                  for name in names]
    weights = weigh(predictor, read("\n".join(lines) + "\n", vehicle))
    assert len(weights.seen) == len(lines) - 1


def share(weights: Weights, mode: str, subject: str) -> float:
    faults = weights.predictor.bench.faults
    return float(sum(w for w, c in zip(weights.normal(), weights.candidates, strict=True)
                     if len(c) == 1 and faults[c[0]].mode == mode
                     and faults[c[0]].subject == subject))


def test_likelihoods_of_a_case_count(vehicle: Vehicle, predictor: Predictor) -> None:
    plain = start(predictor, Case())
    told = start(predictor, read('case "x"\nlikelihood K2 contact-burnt 5\n', vehicle))
    assert share(told, "contact-burnt", "K2") > 4 * share(plain, "contact-burnt", "K2")
    assert share(told, "coil-open", "K2") < share(plain, "coil-open", "K2")


def test_what_was_changed_is_an_unlikely_cause(vehicle: Vehicle, predictor: Predictor) -> None:
    plain = start(predictor, Case())
    sure = start(predictor, read('case "x"\nchanged K2 sure\n', vehicle))
    unsure = start(predictor, read('case "x"\nchanged K2 unsure\n', vehicle))
    values = [share(w, "coil-open", "K2") for w in (sure, unsure, plain)]
    assert values[0] < 0.05 * values[2] and values[0] < values[1] < 0.3 * values[2]
    wire = start(predictor, read('case "x"\nchanged F7.2-K2.30\n', vehicle))
    assert share(wire, "wire-open", "F7.2-K2.30") < 0.1 * share(plain, "wire-open", "F7.2-K2.30")


def test_a_part_measured_out_of_circuit(vehicle: Vehicle, predictor: Predictor) -> None:
    """80 ohm is the relay's coil by its kind; with the relay out, only the relay is judged."""
    base = 'case "x"\nsaw M3 dead in engine-warm\n'
    before = weigh(predictor, read(base, vehicle))
    sound = weigh(predictor, read(
        base + "read 80 ohm at K2.86 against K2.85 out-of-circuit\n", vehicle))
    broken = weigh(predictor, read(
        base + "read open at K2.86 against K2.85 out-of-circuit\n", vehicle))
    assert share(sound, "coil-open", "K2") < 0.1 * share(before, "coil-open", "K2")
    top = max((f for f in predictor.bench.faults), key=lambda f: share(broken, f.mode, f.subject))
    assert (top.mode, top.part) == ("coil-open", "K2")
    # the same meter on the same terminals says nothing of the wiring
    assert share(sound, "wire-open", "S9.2-E2") >= share(before, "wire-open", "S9.2-E2")


def test_a_socket_read_with_its_relay_out(vehicle: Vehicle, predictor: Predictor) -> None:
    """With the relay out its coil is no way round: 86 has supply, 85 hangs in the air."""
    base = 'case "x"\nsaw M3 dead in engine-warm\n'
    fed = weigh(predictor, read(base + "read 12.5 V at K2.86 pulled K2 in engine-warm\n", vehicle))
    alone = weigh(predictor, read(base + "read 0 V at K2.85 pulled K2 in engine-warm\n", vehicle))
    before = weigh(predictor, read(base, vehicle))
    assert share(fed, "fuse-blown", "F6") < 0.1 * share(before, "fuse-blown", "F6")
    assert 0.5 < share(alone, "fuse-blown", "F6") / share(before, "fuse-blown", "F6") < 2


CAR = """vehicle "Brackwater Tourer estate" {{ supply 12 V negative-earth; year {year} }}
place box "Box" at 1, 2, 3 mm
place wing "Wing" at 1, 2, 3 mm wet
battery G1 60 Ah in box
blade-fuse F1 10 A in box
relay K2 in box {fitted}
fan-motor M3 in wing
earth E1 in wing
wire G1.+ -> F1.1 1 mm2 RD 1 m traced {date}
wire F1.2 -> K2.30 1 mm2 RD 1 m
wire F1.2 -> K2.86 1 mm2 RD 1 m
wire K2.87 -> M3.+ 1 mm2 RD 1 m
wire K2.85 -> E1 1 mm2 BN 1 m
wire M3.- -> E1 1 mm2 BN 1 m
wire G1.- -> E1 1 mm2 BN 1 m
{more}
"""


def likelihoods(year: int = 1986, fitted: str = "", date: str = "2026-03-01", more: str = ""
                ) -> dict[str, float]:
    result = load_string(CAR.format(year=year, fitted=fitted, date=date, more=more))
    assert not result.broken, result.diagnostics
    return {f"{f.mode}:{f.subject}": f.likelihood
            for f in Bench.of(result.vehicle).faults}


def ratio(found: dict[str, float], one: str, other: str) -> float:
    return found[one] / found[other]


def test_age_makes_what_ages_likelier() -> None:
    usual, old, young = likelihoods(), likelihoods(1960), likelihoods(2016)
    pair = ("contact-burnt:K2", "wrong-relay:K2")
    assert ratio(young, *pair) < ratio(usual, *pair) < ratio(old, *pair)
    new = likelihoods(fitted="fitted 2024")
    assert ratio(new, *pair) < 0.5 * ratio(usual, *pair)
    assert ratio(new, "earth-corroded:E1", "wrong-relay:K2") == pytest.approx(
        ratio(usual, "earth-corroded:E1", "wrong-relay:K2"))


def test_a_file_without_dates_or_year_is_judged_as_forty_years_old() -> None:
    assert likelihoods(date="") == pytest.approx(likelihoods())


@pytest.mark.parametrize(("line", "likelier", "not_likelier"), [
    ("likelihood contact-burnt 7", "contact-burnt:K2", "coil-open:K2"),
    ("likelihood K2 7", "coil-open:K2", "fuse-blown:F1"),
    ("likelihood relay coil-open 7", "coil-open:K2", "contact-burnt:K2"),
    ("likelihood box 7", "fuse-blown:F1", "motor-worn:M3"),
    ("likelihood wing earth-corroded 7", "earth-corroded:E1", "motor-worn:M3"),
    ("likelihood F1.2-K2.30 7 \"was nipped\"", "wire-open:F1.2-K2.30", "wire-open:F1.2-K2.86"),
])
def test_the_vehicle_file_says_what_is_likelier(line: str, likelier: str, not_likelier: str
                                                ) -> None:
    before, after = likelihoods(), likelihoods(more=line)
    assert ratio(after, likelier, not_likelier) == pytest.approx(
        7 * ratio(before, likelier, not_likelier))


def test_a_kind_or_a_part_says_what_is_likelier_of_it() -> None:
    before = likelihoods()
    part = likelihoods(fitted="{ likelihood contact-burnt 7 }")
    kind = likelihoods(more="kind relay-x like relay { likelihood contact-burnt 7 }\n"
                            "relay-x K9 in box\nwire F1.2 -> K9.30 1 mm2 RD 1 m\n"
                            "wire K9.87 -> M3.+ 1 mm2 RD 1 m")
    usual = ratio(before, "contact-burnt:K2", "coil-open:K2")
    assert ratio(part, "contact-burnt:K2", "coil-open:K2") == pytest.approx(7 * usual)
    assert ratio(kind, "contact-burnt:K9", "contact-burnt:K2") == pytest.approx(7)


def test_a_wet_place_corrodes() -> None:
    found = likelihoods()
    dry = likelihoods(more="")
    assert found == dry
    wet = CAR.format(year=1986, fitted="", date="2026-03-01", more="")
    parched = load_string(wet.replace(" wet", "")).vehicle
    was = {f"{f.mode}:{f.subject}": f.likelihood for f in Bench.of(parched).faults}
    assert ratio(found, "earth-corroded:E1", "fuse-blown:F1") > 2 * ratio(
        was, "earth-corroded:E1", "fuse-blown:F1")


@pytest.mark.parametrize("name", ["12", "5A", "hot", "in", "sure"])
def test_odd_names_of_conditions_survive_writing(name: str) -> None:
    text = CAR.format(year=1986, fitted="", date="2026-03-01",
                      more=f'condition "{name}" {{ engine 95 C }}')
    result = load_string(text)
    assert not result.broken, result.diagnostics
    case = read(f'case "x"\nsaw M3 dead in "{name}" sure\n', result.vehicle)
    again = read(case_text(case), result.vehicle)
    assert again.observations[0].condition == name
    assert case_text(again) == case_text(case)


@pytest.mark.parametrize("value", [2.59e-7, -0.0, 0.00012, 13.6, 1234567.0, 1e9, 0.1 + 0.2, -3.2])
def test_figures_are_written_as_the_language_reads_them(value: float, vehicle: Vehicle) -> None:
    line = observation_text(Observation("volts", "K2.30", value=value, condition="key-on"))
    case = read(f'case "x"\n{line}\n', vehicle)
    assert case.observations[0].value == pytest.approx(value, rel=1e-3, abs=1e-6)
