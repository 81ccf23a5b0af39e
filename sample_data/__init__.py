"""The invented scenario of the demo: catalogue, generator, planted truths; and mappings for open data."""
