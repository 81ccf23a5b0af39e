"""Lives by grouping, failure intervals, fault locations."""
