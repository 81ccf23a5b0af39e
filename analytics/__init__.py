"""Closed repair records in, failure intervals, life curves and reorder forecasts out."""
