"""Demand distributions and reorder."""

from analytics.stock.history import StockRecords
from analytics.stock.intermittent import croston, croston_sba, tsb
from analytics.stock.ordering import economic_quantity, newsvendor, poisson_binomial, poisson_stock
from analytics.stock.reorder import STOCK_TABLES, StockForecast, forecast_stock
from analytics.stock.units_in_place import CareRecords

__all__ = [
    "STOCK_TABLES",
    "CareRecords",
    "StockForecast",
    "StockRecords",
    "croston",
    "croston_sba",
    "economic_quantity",
    "forecast_stock",
    "newsvendor",
    "poisson_binomial",
    "poisson_stock",
    "tsb",
]
