"""Names and units of the trade as they stand in headers of tables, each to a signal. Data, and how it is looked up.

The names are SAE J1979's and J1930's terms with their usual short forms, in English, German and French (from memory
of the trade). Letters are compared without their accents.
"""

import re
import unicodedata

from coach.j1979.signals import SIGNALS

# unit as written, lower case: (unit of ours, factor, offset)
UNITS: dict[str, tuple[str, float, float]] = {
    "km/h": ("km/h", 1.0, 0.0),
    "kmh": ("km/h", 1.0, 0.0),
    "kph": ("km/h", 1.0, 0.0),
    "km/hr": ("km/h", 1.0, 0.0),
    "kmph": ("km/h", 1.0, 0.0),
    "kilometer/hour": ("km/h", 1.0, 0.0),
    "kilometers/hour": ("km/h", 1.0, 0.0),
    "mile/hour": ("km/h", 1.609344, 0.0),
    "miles/hour": ("km/h", 1.609344, 0.0),
    "mph": ("km/h", 1.609344, 0.0),
    "mi/h": ("km/h", 1.609344, 0.0),
    "m/s": ("km/h", 3.6, 0.0),
    "rpm": ("rpm", 1.0, 0.0),
    "1/min": ("rpm", 1.0, 0.0),
    "min-1": ("rpm", 1.0, 0.0),
    "r/min": ("rpm", 1.0, 0.0),
    "u/min": ("rpm", 1.0, 0.0),
    "upm": ("rpm", 1.0, 0.0),
    "tr/min": ("rpm", 1.0, 0.0),
    "t/min": ("rpm", 1.0, 0.0),
    "rev/min": ("rpm", 1.0, 0.0),
    "revolution/minute": ("rpm", 1.0, 0.0),
    "revolutions/minute": ("rpm", 1.0, 0.0),
    "°c": ("°C", 1.0, 0.0),
    "ºc": ("°C", 1.0, 0.0),
    "c": ("°C", 1.0, 0.0),
    "℃": ("°C", 1.0, 0.0),
    "℉": ("°C", 5 / 9, -160 / 9),
    "degc": ("°C", 1.0, 0.0),
    "deg c": ("°C", 1.0, 0.0),
    "celsius": ("°C", 1.0, 0.0),
    "°celsius": ("°C", 1.0, 0.0),
    "degree celsius": ("°C", 1.0, 0.0),
    "degrees celsius": ("°C", 1.0, 0.0),
    "grad c": ("°C", 1.0, 0.0),
    "k": ("°C", 1.0, -273.15),
    "kelvin": ("°C", 1.0, -273.15),
    "°f": ("°C", 5 / 9, -160 / 9),
    "ºf": ("°C", 5 / 9, -160 / 9),
    "f": ("°C", 5 / 9, -160 / 9),
    "degf": ("°C", 5 / 9, -160 / 9),
    "deg f": ("°C", 5 / 9, -160 / 9),
    "fahrenheit": ("°C", 5 / 9, -160 / 9),
    "°fahrenheit": ("°C", 5 / 9, -160 / 9),
    "degree fahrenheit": ("°C", 5 / 9, -160 / 9),
    "degrees fahrenheit": ("°C", 5 / 9, -160 / 9),
    "%": ("%", 1.0, 0.0),
    "pct": ("%", 1.0, 0.0),
    "percent": ("%", 1.0, 0.0),
    "prozent": ("%", 1.0, 0.0),
    "pourcent": ("%", 1.0, 0.0),
    "kpa": ("kPa", 1.0, 0.0),
    "kilopascal": ("kPa", 1.0, 0.0),
    "hpa": ("kPa", 0.1, 0.0),
    "mbar": ("kPa", 0.1, 0.0),
    "bar": ("kPa", 100.0, 0.0),
    "psi": ("kPa", 6.894757, 0.0),
    "inhg": ("kPa", 3.386389, 0.0),
    "in hg": ("kPa", 3.386389, 0.0),
    "g/s": ("g/s", 1.0, 0.0),
    "g/sec": ("g/s", 1.0, 0.0),
    "gps": ("g/s", 1.0, 0.0),
    "gram/second": ("g/s", 1.0, 0.0),
    "grams/second": ("g/s", 1.0, 0.0),
    "kg/h": ("g/s", 1 / 3.6, 0.0),
    "lb/min": ("g/s", 7.559873, 0.0),
    "v": ("V", 1.0, 0.0),
    "volt": ("V", 1.0, 0.0),
    "volts": ("V", 1.0, 0.0),
    "mv": ("V", 0.001, 0.0),
    "s": ("s", 1.0, 0.0),
    "sec": ("s", 1.0, 0.0),
    "seconds": ("s", 1.0, 0.0),
    "min": ("min", 1.0, 0.0),
    "km": ("km", 1.0, 0.0),
    "mi": ("km", 1.609344, 0.0),
    "miles": ("km", 1.609344, 0.0),
    "nm": ("Nm", 1.0, 0.0),
}

UNITLESS = frozenset({"rpm", "%", ""})
"""Units a header may leave out: nobody writes an engine speed or a throttle position in any other."""

_SHORT: dict[str, tuple[str, ...]] = {
    "speed_kmh": (
        "speed",
        "vehicle speed sensor",
        "vss",
        "vehicle speed vss",
        "vehicle velocity",
        "car speed",
        "geschwindigkeit",
        "fahrzeuggeschwindigkeit",
        "fahrgeschwindigkeit",
        "vitesse",
        "vitesse vehicule",
        "vitesse du vehicule",
    ),
    "rpm": (
        "engine rpm",
        "engine speed rpm",
        "engine revolutions",
        "revs",
        "n engine",
        "drehzahl",
        "motordrehzahl",
        "regime",
        "regime moteur",
    ),
    "coolant_c": (
        "coolant",
        "coolant temp",
        "coolant temperature",
        "engine coolant temp",
        "engine coolant",
        "ect",
        "water temperature",
        "coolant temperature sensor",
        "kuhlmitteltemperatur",
        "kuehlmitteltemperatur",
        "kuhlwassertemperatur",
        "temperature liquide de refroidissement",
        "temperature du liquide de refroidissement",
    ),
    "intake_c": (
        "intake",
        "iat",
        "intake air temp",
        "intake temperature",
        "intake temp",
        "charge air temperature",
        "ansauglufttemperatur",
        "temperature air admission",
        "temperature d'air d'admission",
    ),
    "ambient_c": (
        "ambient",
        "ambient air temp",
        "ambient temperature",
        "ambient temp",
        "outside air temperature",
        "outside temperature",
        "outside temp",
        "aat",
        "amb temp",
        "aussentemperatur",
        "umgebungstemperatur",
        "temperature exterieure",
        "temperature ambiante",
    ),
    "oil_c": ("oil temperature", "engine oil temp", "oil temp"),
    "load_pct": (
        "engine load",
        "calculated engine load",
        "calculated load value",
        "calculated engine load value",
        "engine load value",
        "load",
        "clv",
        "motorlast",
        "charge moteur",
    ),
    "map_kpa": (
        "map",
        "intake manifold pressure",
        "manifold absolute pressure",
        "manifold pressure",
        "intake pressure",
        "saugrohrdruck",
        "pression collecteur admission",
    ),
    "baro_kpa": ("baro", "barometric", "atmospheric pressure", "luftdruck", "umgebungsdruck", "pression atmospherique"),
    "maf_gps": (
        "maf",
        "mass air flow rate",
        "air flow rate from mass flow sensor",
        "air flow rate from mass air flow sensor",
        "maf air flow rate",
        "maf rate",
        "air flow rate",
        "air mass flow",
        "luftmassenstrom",
        "debit d'air",
    ),
    "throttle_pct": (
        "throttle",
        "throttle position",
        "throttle pos",
        "throttle position sensor",
        "abs throttle position",
        "throttle position manifold",
        "tps",
        "drosselklappenstellung",
        "drosselklappenposition",
        "position papillon",
        "position du papillon",
    ),
    "relative_throttle_pct": ("relative throttle", "rel throttle position"),
    "pedal_d_pct": ("accelerator pedal position", "accel pedal position d", "pedal position d", "pedal d", "app d"),
    "pedal_e_pct": ("accel pedal position e", "pedal position e", "pedal e", "app e"),
    "pedal_f_pct": ("accel pedal position f", "pedal position f", "pedal f", "app f"),
    "relative_pedal_pct": ("relative accelerator pedal", "rel accelerator pedal position"),
    "fuel_level_pct": (
        "fuel level",
        "fuel level input",
        "fuel tank level input",
        "tankfullstand",
        "niveau carburant",
    ),
    "module_v": ("module voltage", "control module voltage", "ecu voltage"),
    "adapter_v": (
        "adapter voltage",
        "battery voltage",
        "obd voltage",
        "voltage",
        "batteriespannung",
        "tension batterie",
    ),
    "run_time_s": ("engine run time", "run time", "run time since engine start", "engine runtime"),
    "warm_ups_since_clear": ("warm ups since codes cleared", "warm ups since dtc cleared"),
    "distance_since_clear_km": ("distance since codes cleared", "distance traveled since codes cleared"),
    "distance_with_mil_km": ("distance with mil on", "distance traveled with mil on"),
    "odometer_km": ("odometer",),
    "short_trim_b1_pct": ("short term fuel trim bank 1", "stft b1", "stft1", "short fuel trim 1"),
    "long_trim_b1_pct": ("long term fuel trim bank 1", "ltft b1", "ltft1", "long fuel trim 1"),
    "short_trim_b2_pct": ("short term fuel trim bank 2", "stft b2", "stft2", "short fuel trim 2"),
    "long_trim_b2_pct": ("long term fuel trim bank 2", "ltft b2", "ltft2", "long fuel trim 2"),
    "catalyst_b1s1_c": ("catalyst temperature", "catalyst temperature bank 1 sensor 1", "catalyst temperature b1s1"),
    "catalyst_b1s2_c": ("catalyst temperature bank 1 sensor 2", "catalyst temperature b1s2"),
    "catalyst_b2s1_c": ("catalyst temperature bank 2 sensor 1", "catalyst temperature b2s1"),
    "catalyst_b2s2_c": ("catalyst temperature bank 2 sensor 2", "catalyst temperature b2s2"),
    "purge_pct": ("evap purge", "commanded evap purge", "purge"),
}


_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])")
_JOINTS = re.compile(r"[\s_\-.:,/()\[\]#]+")
_SIGNS = re.compile(r"[\s_]*(?:/|\b_?per_?\b|_per_)[\s_]*")


def plain(text: str) -> str:
    """A header's words in lower case, without accents, one space between: "EngineCoolant_Temp." in plain words."""
    bare = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    bare = "".join(letter for letter in bare if not unicodedata.combining(letter))
    return _JOINTS.sub(" ", _HUMP.sub(" ", bare.strip())).strip().lower()


def unit_of(text: str) -> tuple[str, float, float]:
    """The unit of ours, factor and offset for a unit as written; an empty unit for one that is not known."""
    bare = " ".join(_SIGNS.sub("/", text.strip().lower()).replace("_", " ").split())
    return UNITS.get(bare, ("", 0.0, 0.0))


NAMES: dict[str, str] = {
    **{plain(signal.name): signal.id for signal in SIGNALS.values() if signal.unit},
    **{plain(name): signal for signal, names in _SHORT.items() for name in (*names, signal)},
}
"""Every name in plain words, and the signal it is."""
