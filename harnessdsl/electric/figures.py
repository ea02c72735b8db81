"""Figures that parts have when neither the file nor the kind gives them.

Everything here is a typical healthy value at 12 V unless said otherwise; "common practice" means
that no published source is known. A file overrides each of them.
"""

from __future__ import annotations

import math
from itertools import pairwise

NOMINAL_V = 12.0

# Joints of wires (common practice; the crimps and new contacts of measured looms lie in this range)
CRIMP_OHM = ((2.5, 0.3e-3), (6.0, 0.15e-3), (math.inf, 0.05e-3))
"""One crimp by wire area, 0.1 to 0.5 mohm for 0.35 to 2.5 mm2."""
PUSH_ON_OHM = ((1.0, 1.5e-3), (2.5, 1.0e-3), (6.0, 0.5e-3), (math.inf, 0.15e-3))
"""A wire's terminal on a part: 2.8 mm 1 to 3 mohm, 6.3 mm 0.3 to 1 mohm, bolted below."""
PLUG_CONTACT_OHM = ((0.75, 4e-3), (2.5, 2e-3), (6.0, 0.8e-3), (math.inf, 0.3e-3))
"""One mated cavity, new; after ageing the limit is 20, 10, 5, 1.5 and 1 mohm for 0.64, 1.5, 2.8,
6.3 and 9.5 mm terminals (SAE/USCAR-2, from memory)."""
SPLICE_OHM = 0.1e-3
BATTERY_CLAMP_OHM = 0.2e-3
"""0.1 to 0.3 mohm."""
RING_TO_METAL_OHM = 0.3e-3
"""Ring terminal on clean metal: good 0.1 to 0.5 mohm, reject above 5 mohm."""
CASE_TO_METAL_OHM = 1e-3
"""The case of a lamp or a switch on painted metal with a clean seat."""
METAL_OHM = {"body": 0.5e-3, "engine": 0.1e-3}
"""Between any two points of one metal part."""
OTHER_METAL_OHM = 0.5e-3
JOINT_OHM = 0.1e-3
"""A bar inside a part."""

# Contacts
RELAY_CONTACT_OHM = 3e-3
"""Make contact 1.5 mohm typical, 20 mohm largest (data sheets of mini relays)."""
SWITCH_CONTACT_OHM = 10e-3

# Loads
COIL_OHM = 85.0
"""Mini relay, 12 V: 75 to 90 ohm (data sheets)."""
PULL_IN_SHARE = 0.6
"""7.2 V of 12 V: data sheets allow 6.5 to 8 V."""
DROP_OUT_SHARE = 0.15
"""1.8 V of 12 V: data sheets say at least 1.0 to 1.5 V."""
LOAD_A = 1.0
STALL_FACTOR = 4.0
"""Stalled over running current of a small motor: 2 to 5 (common practice)."""
SPEAKER_OHM = 4.0
WINDING_OHM = 10.0
INDUCTOR_OHM = 0.05
RESISTOR_OHM = 1000.0
DIODE_DROP_V = 0.75
DIODE_AT_A = 1.0
DIODE_SERIES_OHM = 0.03
DIODE_IDEALITY = 1.8
LED_DROP_V = 2.0
LED_IDEALITY = 2.0
LED_A = 0.015

# Supply
BATTERY_AH = 60.0
BATTERY_OHM = 5e-3
"""60 to 70 Ah at 25 C, charged: 4 to 6 mohm (common practice); others in proportion to 1/Ah."""
STATE_OF_CHARGE_V = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))
"""Open-circuit voltage of a 12 V wet battery at 26.7 C (Battery Council International)."""
CHARGING_V = 14.2
FULL_ACCEPTANCE_PER_AH = 0.02
"""Current that a full battery takes at 14.2 V, per ampere-hour (common practice)."""
LOW_ACCEPTANCE_PER_AH = 0.5
"""What it takes besides for each unit of charge that is missing (common practice)."""
ALTERNATOR_A = 55.0
ALTERNATOR_OHM = 25e-3
REGULATED_V = 14.2

ASSUMED_LENGTH_M = 1.0
ASSUMED_AREA_MM2 = 1.5
ENGINE_SWITCH_C = 50.0
"""A thermal switch set above this feels the coolant, even where its place is not said to be hot."""


def by_area(table: tuple[tuple[float, float], ...], area_mm2: float) -> float:
    """Return the entry of the first row whose area is not below `area_mm2`."""
    return next(value for limit, value in table if area_mm2 <= limit)


def open_circuit_v(charge: float, nominal_v: float = NOMINAL_V) -> float:
    """Return a battery's voltage at rest by its state of charge (0 to 1, beyond it held)."""
    charge = min(max(charge, 0.0), 1.0)
    for (low, low_v), (high, high_v) in pairwise(STATE_OF_CHARGE_V):
        if charge <= high:
            volts = low_v + (high_v - low_v) * (charge - low) / (high - low)
            return volts * nominal_v / NOMINAL_V
    return STATE_OF_CHARGE_V[-1][1] * nominal_v / NOMINAL_V


def charge_ohm(charge: float, capacity_ah: float, nominal_v: float = NOMINAL_V) -> float:
    """Return the resistance that a battery shows to a charging current."""
    charge = min(max(charge, 0.0), 1.0)
    accepted_a = capacity_ah * (FULL_ACCEPTANCE_PER_AH + LOW_ACCEPTANCE_PER_AH * (1 - charge))
    return (CHARGING_V * nominal_v / NOMINAL_V - open_circuit_v(charge, nominal_v)) / accepted_a
