"""Lives by grouping, failure intervals, fault locations, the order of checks."""

from analytics.estimators.sequencing import CheckSequence, check_sequence, value_of_test

__all__ = ["CheckSequence", "check_sequence", "value_of_test"]
