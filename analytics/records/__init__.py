"""Declared tables with named rules; reading, column mapping, units, dates, validation, quarantine.

The way in: `parse_mapping` (a TOML file), `map_feed` (files to text tables), `judge` (text to types); `dry_run` says
what would happen, `propose_mapping` begins a mapping file.
"""

from analytics.records.dry_run import Beside, describe, dry_run
from analytics.records.judge import Judged, judge
from analytics.records.mapped import MappedFeed, map_feed
from analytics.records.mapping import Mapping
from analytics.records.mapping_file import parse_mapping
from analytics.records.proposal import propose_mapping
from analytics.records.reading import read_files
from analytics.records.standard_input import read_standard_input

__all__ = [
    "Beside",
    "Judged",
    "MappedFeed",
    "Mapping",
    "describe",
    "dry_run",
    "judge",
    "map_feed",
    "parse_mapping",
    "propose_mapping",
    "read_files",
    "read_standard_input",
]
