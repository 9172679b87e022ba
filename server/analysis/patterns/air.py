"""Air: what density and wind do to distance, by settings without a citable source.

Density of dry air with the pressure of the US Standard Atmosphere 1976 at an altitude and a temperature of its own:

    p = 101325 (1 - 0.0065 h / 288.15)^5.25588 Pa,   rho = p / (287.053 T)

A correction is off unless asked for. Rules of thumb for distance disagree by a factor of about two and have no citable
source, so that each coefficient is a setting; its default is a choice of this tool between them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from server.analysis.patterns.rows import AirRow

SEA_LEVEL_PA: Final = 101_325.0
SEA_LEVEL_K: Final = 288.15
LAPSE_K_PER_M: Final = 0.0065
PRESSURE_EXPONENT: Final = 5.25588
GAS_CONSTANT: Final = 287.053
"""J/(kg K) of dry air. These five: US Standard Atmosphere 1976."""

LOWEST_M, HIGHEST_M = -430.0, 4_000.0
COLDEST_C, WARMEST_C = -30.0, 60.0
STRONGEST_WIND_MPH: Final = 60.0

PER_DENSITY: Final = 0.5
"""Share of a change of density that comes off the distance: a setting, no source."""
HEAD_PER_MPH: Final = 0.0055
TAIL_PER_MPH: Final = 0.0040
"""Share of the distance lost a mph of head wind, won a mph of tail wind: settings, no source."""

SPREAD_OF_RULES: Final = "rules of thumb disagree by a factor of about 2"


def standard_temperature_c(altitude_m: float) -> float:
    """The standard atmosphere's temperature at an altitude."""
    return SEA_LEVEL_K - 273.15 - LAPSE_K_PER_M * altitude_m


def density(altitude_m: float = 0.0, temperature_c: float | None = None) -> float:
    """Density of dry air, kg/m3; the standard temperature of the altitude unless one is given.

    >>> round(density(), 4)
    1.225
    """
    pressure: float = SEA_LEVEL_PA * (1 - LAPSE_K_PER_M * altitude_m / SEA_LEVEL_K) ** PRESSURE_EXPONENT
    degrees = standard_temperature_c(altitude_m) if temperature_c is None else temperature_c
    return pressure / (GAS_CONSTANT * (degrees + 273.15))


@dataclass(frozen=True)
class Air:
    """The air of a day and of the days that the distances were measured on. `head_wind_mph`: against (+), with (-).

    ValueError for a value outside its range.
    """

    temperature_c: float | None = None
    altitude_m: float = 0.0
    head_wind_mph: float = 0.0
    measured_at_c: float | None = None
    measured_at_m: float = 0.0
    per_density: float = PER_DENSITY

    def __post_init__(self) -> None:
        limits = {
            "temperature_c": (COLDEST_C, WARMEST_C, "degrees C"),
            "altitude_m": (LOWEST_M, HIGHEST_M, "m"),
            "head_wind_mph": (-STRONGEST_WIND_MPH, STRONGEST_WIND_MPH, "mph"),
            "measured_at_c": (COLDEST_C, WARMEST_C, "degrees C"),
            "measured_at_m": (LOWEST_M, HIGHEST_M, "m"),
            "per_density": (0.0, 1.5, ""),
        }
        for name, (low, high, unit) in limits.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name}: {value:g} is outside {low:g} to {high:g} {unit}".rstrip())

    @property
    def factor(self) -> float:
        """What a distance is multiplied by."""
        here, there = density(self.altitude_m, self.temperature_c), density(self.measured_at_m, self.measured_at_c)
        per_mph = HEAD_PER_MPH if self.head_wind_mph > 0 else TAIL_PER_MPH
        return (1 - self.per_density * (here / there - 1)) * (1 - per_mph * self.head_wind_mph)

    def as_dict(self) -> AirRow:
        """The correction as a document states it."""
        return {
            "temperature_c": self.temperature_c,
            "altitude_m": self.altitude_m,
            "head_wind_mph": self.head_wind_mph,
            "measured_at_c": self.measured_at_c,
            "measured_at_m": self.measured_at_m,
            "per_density": self.per_density,
            "factor": self.factor,
            "caution": SPREAD_OF_RULES,
        }
