"""One decoded sample of telemetry: what every feed makes and the engine reads."""

from __future__ import annotations

from dataclasses import dataclass, fields

Wheels = tuple[float, float, float, float]
"""Front left, front right, rear left, rear right."""
Tread = tuple[float, float, float]
"""Inner, middle, outer; inner is nearest the car's centre."""


@dataclass(slots=True)
class Sample:
    """One moment of one source. SI units; ISO 8855 axes (x forward, y left, z up, yaw positive to the left).

    `None` means: this source does not have the channel now. Every number held is finite. Only `t` is always there.
    """

    t: float
    """s, the source's session clock"""

    session: str | None = None
    session_kind: str | None = None
    """practice, qualifying, race"""
    track: str | None = None
    car: str | None = None
    driver: str | None = None
    setup: str | None = None

    lap: int | None = None
    """laps started, as the source counts them"""
    lap_time: float | None = None
    last_lap_time: float | None = None
    lap_distance: float | None = None
    """m along the track from the start line"""
    track_length: float | None = None

    x: float | None = None
    y: float | None = None
    z: float | None = None
    """m in a fixed world frame"""
    yaw: float | None = None
    yaw_rate: float | None = None
    """rad, rad/s"""

    speed: float | None = None
    vx: float | None = None
    vy: float | None = None
    """m/s: over ground; in the body frame, forward and left"""
    ax: float | None = None
    ay: float | None = None
    az: float | None = None
    """m/s^2 in the body frame; may hold gravity"""

    throttle: float | None = None
    brake: float | None = None
    clutch: float | None = None
    """0..1, 1 = fully pressed"""
    steer: float | None = None
    """rad, positive to the left; any constant ratio to the road wheels"""
    gear: int | None = None
    """-1 reverse, 0 neutral, 1.. forward"""
    engine_speed: float | None = None
    engine_speed_max: float | None = None
    """rev/min"""

    wheel_speed: Wheels | None = None
    """m/s, peripheral: angular speed x rolling radius"""
    edge_left: float | None = None
    edge_right: float | None = None
    """m from the car's centre line to each track edge; negative = beyond it"""
    car_width: float | None = None

    fuel: float | None = None
    """L"""
    tyre_temp: tuple[Tread, Tread, Tread, Tread] | None = None
    """degC"""
    tyre_pressure: Wheels | None = None
    """kPa, gauge"""
    damage: float | None = None

    on_track: bool | None = None
    in_pit: bool | None = None
    paused: bool | None = None
    lap_valid: bool | None = None

    time_left: float | None = None
    laps_left: float | None = None
    gap_ahead: float | None = None
    gap_behind: float | None = None
    """s to the nearest car on the same stretch"""
    beside: str | None = None
    """"", "left", "right" or "both": a car overlaps on that side"""
    blue_flag: bool | None = None
    yellow_flag: bool | None = None
    assists: tuple[str, ...] | None = None
    """of abs, traction, gearbox, clutch, line"""
    wetness: float | None = None
    track_temp: float | None = None
    air_temp: float | None = None


CHANNELS: tuple[str, ...] = tuple(f.name for f in fields(Sample))
"""Every channel's name, in the order of the class."""
