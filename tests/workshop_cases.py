"""Twenty-five searches as a workshop tells them: what was seen and read, and what it was.

Written by hand from how such faults show themselves (common practice, no source), before anything
was weighed against them; only the words for the two lifted earth points were put right since
("weak" for "dead": loads find another way to earth through the filaments beside them). A cause is
named by (way to fail, part or wire); where what was seen cannot tell several apart, any of those
named counts.
"""

from __future__ import annotations

WORKSHOP_CASES: list[tuple[str, str, list[tuple[str, str]]]] = [
    ("fan silent in traffic, the switch in the radiator does not close", """
complaint "Overheats in traffic, fan never runs" when hot
saw M2 dead in hot-idle
saw K3 silent in hot-idle
read 13.6 V at S9.1 in hot-idle
""", [("thermal-stuck-open", "S9"), ("thermal-shifted", "S9")]),
    ("left headlamp dim on both beams, green pin in its plug", """
saw E1 dim in night-dipped
saw E1 dim in night-main
saw E3 works in night-dipped
saw E2 works in night-dipped
saw H11 works in horn
""", [("plug-corroded", "X5")]),
    ("left dipped beam out, bulb burnt", """
saw E1 dead in night-dipped
saw E1 works in night-main
saw F32 whole
""", [("filament-open", "E1")]),
    ("earth of the left front panel off: fan, horns and left lamps all weak", """
saw H11 dim in horn
saw H12 dim in horn
saw M2 slow in hot-idle
saw E2 works in night-dipped
""", [("earth-lifted", "EP4")]),
    ("wipers dead, a new fuse blows at once with the key on", """
saw M5 dead in rain
saw F29 blown
saw M5 dead in interval
saw F29 blown in ignition-on
changed F29 2026-02-01 "blew again at once"
""", [("wire-short", "F29.2-J70"), ("wire-short", "J70-K12.15"), ("wire-short", "J70-X21.1"),
      ("wire-short", "X21.1-S21.53a"), ("wire-short", "J70-X12.1"),
      ("wire-short", "X12.1-M5.53a")]),
    ("both stop lamps out, pushed-back pin in the sill plug", """
saw E11 dead in braking-left
saw E12 dead in braking-left
saw F11 whole
read 13.4 V at S6.2 in braking-left
read 13.4 V at X25.a.4 in braking-left
read 0 V at X25.b.4 in braking-left
""", [("plug-open", "X25")]),
    ("horn mute, push does not make contact", """
saw H11 dead in horn
saw H12 dead in horn
saw K8 silent in horn
read 12.2 V at K8.85 in horn
read 12.2 V at S20.71 in horn
""", [("contact-open", "S20")]),
    ("right rear window stuck, motor's brushes worn", """
saw M23 dead in windows-down
saw M21 works in windows-down
read 11.6 V at M23.33R against M23.33L in windows-down
""", [("motor-worn", "M23")]),
    ("all windows and the mirrors dead: one fuse", """
saw M20 dead in windows-up
saw M22 dead in windows-up
saw M21 dead in windows-down
saw M11 dead in mirror
saw K7 silent in windows-up
saw F26 blown
""", [("fuse-blown", "F26")]),
    ("does not crank, clutch switch open", """
saw M1 dead in cranking
saw K2 silent in cranking
read 12.3 V at K2.86 in cranking
read 12.3 V at K2.85 in cranking
read 12.3 V at S42.1 in cranking
""", [("contact-open", "S42")]),
    ("cranks slowly, lamps go down: battery at its end", """
saw M1 slow in cranking
saw F2 whole
read 8.2 V at G1.+ against G1.- in cranking
""", [("battery-low", "G1")]),
    ("does not crank, the engine's strap is bad", """
saw M1 dead in cranking
saw K2 clicks in cranking
read 10 V at EP2 against G1.- in cranking
read 12.4 V at G1.+ against G1.- in cranking
""", [("earth-corroded", "EP2"), ("earth-lifted", "EP2"), ("earth-corroded", "EP3"),
      ("earth-lifted", "EP3"), ("wire-open", "EP2-EP3"), ("wire-corroded", "EP2-EP3")]),
    ("pump dead, plug in the right sill", """
complaint "Stopped on the road, no fuel pressure"
saw M10 dead in idling
saw K11 clicks in idling
saw F51 whole
read 13.6 V at X26.a.2 in idling
read 0 V at X26.b.2 in idling
""", [("plug-open", "X26")]),
    ("rear window cold though its telltale glows, no earth through the hinge plug", """
saw E25 dead in winter
saw H13 works in winter
read 13.2 V at E25.+ in winter
read 13.2 V at E25.- in winter
read 13.2 V at X27.b.6 in winter
""", [("plug-open", "X27")]),
    ("blower on its highest speed only", """
saw M3 dead in blower-low
saw M3 works in winter
""", [("resistor-open", "R2")]),
    ("both reversing lamps out, switch in the gearbox", """
saw E13 dead in reversing-right
saw E14 dead in reversing-right
read 13.5 V at S7.1 in reversing-right
read 0 V at S7.2 in reversing-right
""", [("contact-open", "S7")]),
    ("earth of the right load space off: pump, rear window, right stop lamp", """
saw M10 slow in idling
saw E25 dim in winter
saw E11 works in braking-left
""", [("earth-lifted", "EP12")]),
    ("left front turn lamp burnt", """
saw E15 dead in braking-left
saw E19 works in braking-left
saw E17 works in braking-left
""", [("filament-open", "E15")]),
    ("no charge lamp with the key on", """
saw H1 dead in ignition-on
saw H2 works in ignition-on
""", [("filament-open", "H1")]),
    ("interior lamps stay on, a door switch stuck", """
saw E20 stays-on in parked
saw E21 stays-on in parked
""", [("contact-welded", "S11"), ("contact-welded", "S12"), ("contact-welded", "S13"),
      ("contact-welded", "S14"), ("switch-stuck", "S11"), ("switch-stuck", "S12"),
      ("switch-stuck", "S13"), ("switch-stuck", "S14")]),
    ("front fog lamps out, relay coil open", """
saw E7 dead in fog
saw E8 dead in fog
saw H8 works in fog
saw K4 silent in fog
read 13.4 V at K4.86 in fog
read 0 V at K4.85 in fog
""", [("coil-open", "K4")]),
    ("fan runs with the key out, contact welded", """
saw M2 stays-on in parked
saw M2 stays-on in ignition-on
""", [("contact-welded", "K3")]),
    ("all gauges dead, pin in the brown instrument plug", """
saw P1 dead in ignition-on
saw P2 dead in ignition-on
saw P3 dead in ignition-on
saw F23 whole
read 12.2 V at X13.a.1 in ignition-on
read 0 V at X13.b.1 in ignition-on
""", [("plug-open", "X13")]),
    ("radio dead, fuse blown", """
saw A2 dead in radio
saw P5 works in radio
saw F19 blown
""", [("fuse-blown", "F19")]),
    ("right dipped beam dim, corroded pin in the cross loom plug", """
saw E2 dim in night-dipped
saw E2 works in night-main
read 13.4 V at X4.a.2 in night-dipped
read 7.5 V at X4.b.2 in night-dipped
""", [("plug-corroded", "X4")]),
]
