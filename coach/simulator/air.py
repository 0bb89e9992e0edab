"""The air by altitude: pressure and density of the international standard atmosphere, at the cars' home pressure."""

SEA_LEVEL_KPA = 101.0
LAPSE_PER_M, EXPONENT = 2.25577e-5, 5.25588  # ICAO standard atmosphere


def pressure_kpa(altitude_m: float) -> float:
    """Air pressure at this altitude, kPa."""
    return SEA_LEVEL_KPA * float((1 - LAPSE_PER_M * altitude_m) ** EXPONENT)


def thin(baro_kpa: float) -> float:
    """Density of the air against that at sea level, 0-1, at the same temperature."""
    return baro_kpa / SEA_LEVEL_KPA
