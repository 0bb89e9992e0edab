"""The bodies of the simulated cars. Invented, of ordinary size: no maker, no model, figures rounded, from memory."""

from dataclasses import replace

from coach.simulator.body_spec import BodySpec

SMALL = BodySpec(
    fuel="spark",
    mass_kg=1130,
    drag_area_m2=0.66,
    rolling=0.0105,
    kmh_per_1000rpm=(7.6, 14.0, 20.8, 28.0, 35.0),
    displacement_l=1.4,
    torque_nm=128,
    torque_peak_rpm=3900,
    idle_rpm=740,
    friction_bar=1.25,
    efficiency=0.355,
    coolant_kj_per_k=54.0,
    thermostat_c=84,
    tank_l=45,
    throttle_rest_pct=14.9,
)

ESTATE = BodySpec(
    fuel="spark",
    mass_kg=1640,
    drag_area_m2=0.72,
    rolling=0.0115,
    kmh_per_1000rpm=(9.5, 17.5, 27.0, 38.5),
    displacement_l=2.9,
    torque_nm=262,
    torque_peak_rpm=3700,
    idle_rpm=690,
    friction_bar=1.35,
    efficiency=0.34,
    coolant_kj_per_k=98.0,
    thermostat_c=86,
    tank_l=70,
    throttle_rest_pct=12.2,
    electronic_throttle=False,
    air_pump=True,
)

HYBRID = BodySpec(
    fuel="spark",
    mass_kg=1420,
    drag_area_m2=0.60,
    rolling=0.0095,
    kmh_per_1000rpm=(36.0,),
    displacement_l=1.8,
    torque_nm=142,
    torque_peak_rpm=3600,
    idle_rpm=1120,
    friction_bar=1.0,
    efficiency=0.40,
    coolant_kj_per_k=52.0,
    thermostat_c=82,
    tank_l=43,
    throttle_rest_pct=16.9,
    wheel_power_kw=92,
    engine_power_kw=70,
)

DIESEL = BodySpec(
    fuel="compression",
    mass_kg=1560,
    drag_area_m2=0.70,
    rolling=0.0105,
    kmh_per_1000rpm=(8.2, 15.5, 25.0, 36.0, 46.0, 55.0),
    displacement_l=2.0,
    torque_nm=330,
    torque_peak_rpm=2100,
    idle_rpm=820,
    friction_bar=1.4,
    efficiency=0.43,
    coolant_kj_per_k=50.0,
    thermostat_c=83,
    tank_l=58,
    throttle_rest_pct=88.0,
)

HATCH = BodySpec(
    fuel="spark",
    mass_kg=1240,
    drag_area_m2=0.67,
    rolling=0.010,
    kmh_per_1000rpm=(7.9, 14.6, 22.2, 30.0, 37.5, 45.0),
    displacement_l=1.2,
    torque_nm=172,
    torque_peak_rpm=2700,
    idle_rpm=780,
    friction_bar=1.3,
    efficiency=0.36,
    coolant_kj_per_k=54.0,
    thermostat_c=87,
    tank_l=48,
    throttle_rest_pct=17.6,
    start_stop=True,
)

COUPE = replace(
    SMALL, mass_kg=1060, displacement_l=1.6, torque_nm=138, tank_l=42, thermostat_c=83, electronic_throttle=False
)

ROADSTER = replace(
    SMALL, mass_kg=1190, displacement_l=2.0, torque_nm=196, torque_peak_rpm=4800, tank_l=50, thermostat_c=82
)

PLUG_IN = replace(
    HYBRID,
    mass_kg=1630,
    displacement_l=1.6,
    coolant_kj_per_k=50.0,
    thermostat_c=81,
    wheel_power_kw=110,
    engine_power_kw=66,
    battery_kwh=10.5,
    electric_kw=17.0,
    electric_kmh=72.0,
    plug_in=True,
)

VAN = replace(
    DIESEL,
    mass_kg=2350,
    drag_area_m2=1.35,
    kmh_per_1000rpm=(7.4, 14.0, 22.5, 32.5, 41.5, 50.0),
    torque_nm=385,
    coolant_kj_per_k=60.0,
    tank_l=75,
    exhaust_fluid=True,
    pto_kw=11.0,
)
