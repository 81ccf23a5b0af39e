"""Pages and charts; reads a snapshot, recomputes nothing."""

FOLDER = "WEARLEDGER_DATA"
"""Environment variable that names the data folder."""
