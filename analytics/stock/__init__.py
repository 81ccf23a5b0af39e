"""Demand distributions and reorder."""

from analytics.stock.history import StockRecords
from analytics.stock.reorder import StockForecast, forecast_stock

__all__ = ["StockForecast", "StockRecords", "forecast_stock"]
