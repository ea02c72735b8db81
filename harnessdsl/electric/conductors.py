"""Resistance of conductors: tables of standards and the one constant used where they are silent.

Milliohm per metre at 20 C unless a temperature is given. Sources stand at each table.
"""

from __future__ import annotations

COPPER_OHM_MM2_PER_M = 0.017241
"""Annealed copper at 20 C, 1/58 (IEC 60028, from memory)."""

VEHICLE_COPPER_OHM_MM2_PER_M = 0.0185
"""Used for sizing vehicle cable (an automotive handbook, from memory). The ISO 6722 table works out
at 0.0183 to 0.0191."""

ALUMINIUM_OHM_MM2_PER_M = 0.028264
"""Hard-drawn aluminium at 20 C (IEC 60889, from memory)."""

STRANDED_ALUMINIUM_OHM_MM2_PER_M = ALUMINIUM_OHM_MM2_PER_M * (
    VEHICLE_COPPER_OHM_MM2_PER_M / COPPER_OHM_MM2_PER_M)
"""Aluminium cable with the same allowance for stranding that vehicle copper has (assumed)."""

COPPER_PER_K = 0.00393
"""Temperature coefficient of copper at 20 C (IEC 60028, from memory)."""

ALUMINIUM_PER_K = 0.00403
"""Temperature coefficient of aluminium at 20 C (IEC 60889, from memory)."""

ISO_6722_MOHM_PER_M = {
    0.22: 84.8, 0.35: 54.4, 0.5: 37.1, 0.75: 24.7, 1.0: 18.5, 1.5: 12.7, 2.5: 7.6, 4.0: 4.71,
    6.0: 3.14, 10.0: 1.82, 16.0: 1.16, 25.0: 0.743, 35.0: 0.527, 50.0: 0.368, 70.0: 0.259,
    95.0: 0.196, 120.0: 0.153,
}
"""Largest resistance of bare-copper vehicle cable (ISO 6722; below 1 mm2 from memory)."""

IEC_60228_CLASS_5_MOHM_PER_M = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91,
    16.0: 1.21, 25.0: 0.780, 35.0: 0.554, 50.0: 0.386, 70.0: 0.272, 95.0: 0.206, 120.0: 0.161,
}
"""Largest resistance of flexible copper conductors (IEC 60228 class 5)."""

IEC_60228_SOLID_MOHM_PER_M = {
    0.5: 36.0, 0.75: 24.5, 1.0: 18.1, 1.5: 12.1, 2.5: 7.41, 4.0: 4.61, 6.0: 3.08, 10.0: 1.83,
    16.0: 1.15, 25.0: 0.727, 35.0: 0.524, 50.0: 0.387, 70.0: 0.268, 95.0: 0.193, 120.0: 0.153,
}
"""Largest resistance of solid and stranded copper conductors (IEC 60228 classes 1 and 2)."""


def temperature_factor(temperature_c: float, material: str = "copper") -> float:
    """Return the resistance at `temperature_c` as a multiple of that at 20 C."""
    per_k = ALUMINIUM_PER_K if material == "aluminium" else COPPER_PER_K
    return 1 + per_k * (temperature_c - 20)


def solid_copper_ohm_per_m(area_mm2: float) -> float:
    """Return the resistance of solid annealed copper at 20 C (AWG by ASTM B258, IEC 60028)."""
    return COPPER_OHM_MM2_PER_M / area_mm2


def cable_ohm_per_m(area_mm2: float, material: str = "copper",
                    temperature_c: float = 20.0) -> float:
    """Return the resistance of vehicle cable: by ISO 6722 where the area is one of its sizes, by
    0.0185 ohm mm2/m otherwise; raises ValueError for an area that is not positive."""
    if not area_mm2 > 0:
        raise ValueError(f"a wire of {area_mm2} mm2 carries nothing")
    if material == "aluminium":
        at_20 = STRANDED_ALUMINIUM_OHM_MM2_PER_M / area_mm2
    else:
        listed = ISO_6722_MOHM_PER_M.get(round(area_mm2, 3))
        at_20 = (VEHICLE_COPPER_OHM_MM2_PER_M / area_mm2 if listed is None else listed * 1e-3)
    return at_20 * temperature_factor(temperature_c, material)
