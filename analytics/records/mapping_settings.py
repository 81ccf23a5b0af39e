"""Parse the ``[settings]`` of a mapping file."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from analytics.errors import FeedError
from analytics.records.mapping import KEEP_TEXT, KEYED_HASH, UNITS, Settings
from analytics.records.toml_values import amount, known_keys, one_of, whole

SERVICE_LEVELS = (0.5, 0.999)
MOST_REVIEW_DAYS = 730
MOST_COSTS = {"holding_share": 1, "order_cost": 1e9, "shortage_cost": 1e9}


def settings_of(value: object, where: str, format_keys: tuple[str, ...]) -> tuple[Settings, dict[str, Any]]:
    """Return the settings, and how every file is written whose block does not say otherwise.

    Parameters
    ----------
    value
        The table of settings, without its placeholders.
    where
        Place for messages.
    format_keys
        Keys that say how files are written.

    Raises
    ------
    FeedError
        If a key is unknown or a value out of range.
    """
    said = dict(
        known_keys(value, (*(each.name for each in fields(Settings)), *format_keys, "placeholders"), where, "setting")
    )
    written = {name: said.pop(name) for name in format_keys if name in said}
    for name in ("odometer_unit", "display_unit"):
        one_of(said.get(name, "km"), UNITS["odometer"], name, where)
    one_of(said.get("vehicle_id", KEYED_HASH), (KEYED_HASH,), "vehicle_id", where)
    one_of(said.get("free_text", KEEP_TEXT), (KEEP_TEXT,), "free_text", where)
    whole(said.get("review_days", 1), "review_days", where, 1, MOST_REVIEW_DAYS)
    for name, most in MOST_COSTS.items():
        amount(said.get(name, 0), name, where, most)
    currency, level = said.get("currency", "XXX"), said.get("service_level", 0.5)
    if not (isinstance(currency, str) and len(currency) == 3 and currency.isalpha() and currency.isupper()):
        raise FeedError(f"currency is {currency!r}", where=where, next_step='write three capital letters, as "EUR"')
    if not (isinstance(level, float) and SERVICE_LEVELS[0] <= level <= SERVICE_LEVELS[1]):
        low, high = SERVICE_LEVELS
        raise FeedError(
            f"service_level is {level!r}", where=where, next_step=f"write a number from {low} to {high}, as 0.9"
        )
    return Settings(**said), written
