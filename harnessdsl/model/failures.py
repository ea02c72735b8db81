"""The ways in which things fail, by the words that files and messages use for them."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.text import NOWHERE, Span

FAILURES: dict[str, str] = {
    "wire-open": "a wire is broken, or off at one end",
    "wire-corroded": "a wire's end is corroded: high resistance",
    "wire-short": "a wire is chafed through to metal",
    "wires-touch": "neighbours in a plug touch",
    "wires-chafed": "neighbours in a run are chafed through onto each other",
    "plug-open": "a pin is pushed back in its plug",
    "plug-corroded": "a plug's contact is corroded: high resistance",
    "plug-pulled": "a plug is apart",
    "earth-lifted": "an earth point is loose or off",
    "earth-corroded": "an earth point is corroded: high resistance",
    "fuse-blown": "a fuse is blown, or makes no contact",
    "fuse-contact": "a fuse's clips are corroded: high resistance",
    "link-open": "a fusible link is burnt through",
    "contact-open": "a contact does not close",
    "contact-welded": "a contact does not open any more",
    "contact-burnt": "a contact is burnt: high resistance",
    "coil-open": "a coil is open",
    "coil-short": "a coil has shorted turns",
    "wrong-relay": "the wrong relay is fitted",
    "switch-stuck": "a switch is stuck in one position",
    "thermal-stuck-open": "a thermal switch does not close",
    "thermal-stuck-closed": "a thermal switch does not open any more",
    "thermal-shifted": "a thermal switch works at the wrong temperature",
    "filament-open": "a filament is burnt out",
    "load-open": "a load is dead inside",
    "solenoid-open": "a solenoid's winding is open",
    "motor-worn": "a motor's brushes are worn: it does not turn",
    "motor-weak": "a motor is worn: it turns slowly",
    "motor-seized": "a motor is seized",
    "resistor-open": "a resistor is burnt through",
    "diode-open": "a diode is open",
    "diode-short": "a diode is shorted",
    "capacitor-short": "a capacitor is shorted",
    "sender-open": "a sender is open",
    "sender-short": "a sender is shorted",
    "battery-low": "a battery is flat or worn out",
    "alternator-dead": "an alternator or dynamo does not charge",
    "module-dead": "a control module is dead inside",
    "output-dead": "an output pin of a control module is dead",
    "input-dead": "an input pin of a control module is dead",
}
"""Word -> what it means."""


@dataclass(frozen=True, slots=True)
class Likelihood:
    """How many times likelier than usual something fails. `names` are ways to fail, parts, wires,
    places and kinds; it holds for what all of them fit."""

    names: tuple[str, ...]
    factor: float
    note: str = ""
    span: Span = NOWHERE
