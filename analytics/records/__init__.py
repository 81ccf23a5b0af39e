"""Declared tables with named rules; reading, column mapping, units, dates, validation, quarantine.

The way in: `parse_mapping` (a TOML file), `map_feed` (files to text tables), `judge` (text to types).
"""

from analytics.records.judge import Judged, judge
from analytics.records.mapped import MappedFeed, map_feed
from analytics.records.mapping import Mapping
from analytics.records.mapping_file import parse_mapping
from analytics.records.reading import read_files

__all__ = ["Judged", "MappedFeed", "Mapping", "judge", "map_feed", "parse_mapping", "read_files"]
