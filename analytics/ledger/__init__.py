"""The DuckDB ledger: schema, loads, revisions, quarantine, kept feeds."""
