"""Declared tables with named rules; reading, column mapping, units, dates, validation, quarantine."""
