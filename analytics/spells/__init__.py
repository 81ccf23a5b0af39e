"""Odometer clocks, observation windows, spells at risk, and why a record gave none."""

from analytics.scales import miles_to_km, odometer_limit

__all__ = ["miles_to_km", "odometer_limit"]
