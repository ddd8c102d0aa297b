"""Cornerword: a coach for sim-racing practice that listens to telemetry and says one short thing at the corner exit."""

__version__ = "0.1.0"
