"""Which monitor watches for a code: two tables of rows, one for spark and one for compression ignition.

Titles: SAE J2012 as python-OBD's `codes.py` prints them (a test reads them again); a row of newer codes says where its
titles were read, or that they are from memory. Which bank and sensor: as public lists print them. Which monitor a fault
belongs to, and whether it is watched all the time: 40 CFR 86.010-18 as printed in the CFR of 2015, the federal twin of
California's light-duty text for engines over 14,000 lb; petrol engines by its paragraph (h), diesels by (g), both by
(i). There circuits of valves, pumps and other sensors are comprehensive components, and heaters of exhaust gas sensors
stand with the sensors; that light-duty readiness has a bit of its own for the heaters is SAE J1979.
"""

from coach.inspection.code_table.diesel import DIESEL_ROWS
from coach.inspection.code_table.parts import PART_ROWS
from coach.inspection.code_table.rows import Row, entries
from coach.inspection.code_table.sensors import sensor_rows
from coach.inspection.code_table.spark import SPARK_ROWS
from coach.j1979.readiness import Ignition

ROWS: dict[Ignition, tuple[Row, ...]] = {
    "spark": (*sensor_rows("spark"), *SPARK_ROWS, *PART_ROWS),
    "compression": (*sensor_rows("compression"), *DIESEL_ROWS, *PART_ROWS),
}
"""The rows of each kind of engine; no code stands in two rows of one kind."""

TABLES = {ignition: {entry.code: entry for row in rows for entry in entries(row)} for ignition, rows in ROWS.items()}
"""Every code with a known monitor, by the kind of engine that reports it."""
