"""Every named default of the rules of record, in one place; each run writes them to ``meta``."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Parameters:
    """The defaults of the rules of record.

    Attributes
    ----------
    renumber_days
        Rule 5: a "revision" that moves `closed_on` further than this is another job. Days.
    joining_days
        Rule 21: what is found on orders opened within this of the first visit existed before. Days.
    follow_up_days
        Rule 22: a visit opened within this of the hand-over of a repair of the component is not neutral. Days.
    window_used_share
        Rule 23: below this share of events used, the bracket is shown. 0-1.
    lay_up_days
        Rule 25: longer stays are taken out of every component's exposure. Days.
    since_new_days
        Rule 20: a car first seen within this of its build date has been in care since new. Days.
    grace_gaps, grace_most_days
        Sensitivity to rule 23: watching ends so many of the car's usual gaps between visits after its last visit, at
        most so many days after. -, days.
    blank_position_share
        Rule 16: above this share of lines without position, the component is shown for the whole car. 0-1.
    not_recorded_share
        Rule 8: above this share of events without a reason, the curve is shown both ways. 0-1.
    carry_on_months
        Rule 29: distance is carried on past the last reading for at most this. Months.
    distance_refusal_points
        Rule 29: the distance law is refused if missing km differ by more than this between failed and
        censored spells. Percentage points.
    scale_failures, scale_rate_spread
        Age or distance is told from this many failures and this spread of log use rates. Count, -.
    risk_set_least
        Rule 32: a snapshot's curve starts where this many units are at risk. Count.
    own_failures, upper_open_ratio, family_members, family_failed
        Rule 34: failures for `own`; upper/lower ratio above which a life is `upper open`; a usable family.
    variant_failures, variant_known_share
        Rule 33: when variant is the default grouping.
    difference_p
        Rule 33: adjusted p-value below which two levels of a grouping are said to differ. 0-1.
    hot_spot_p, scan_draws
        Rule 36: a place stands out where chance makes some place stand out as much less often than this; draws of
        chance. 0-1, count.
    prior_log_shape_mean, prior_log_shape_sd
        Rule 34: prior of the log Weibull shape.
    return_days, return_km
        Rule 37: window of a return. Days, km.
    return_repairs
        Rule 37: of fewer watched repairs it is only told that they come back more often than by chance. Count.
    follow_on_days
        Rule 37: window of a follow-on failure. Days.
    follow_on_least
        Rule 37: cars with both failures in either order from which their order is tested. Count.
    follow_on_calendar_pairs
        Rule 37: pairs of different cars, in either order, that weigh as much as the assumption that no season favours
        one. Count.
    follow_on_together_share
        Rule 37: where the first is renewed at more than this share of the second's failures, order tells nothing. 0-1.
    service_level, review_days
        Rule 38: reorder point. 0-1, days.
    holding_share, order_cost, shortage_cost, currency
        Rule 38: cost of a part on the shelf for a year, as a share of its price; of an order; of a part asked for in
        vain; 0 = not stated. Currency of the latter two, empty = that of the prices.
    active_months, campaign_share, rate_months
        Rule 38: a car is active if seen within this; a campaign year; history of the pooled rate. Months, 0-1, months.
    stream_months, joining_start_months
        Rule 38: history of cars that join and of planned work; first visits before the ledger is so old are its start.
        Months.
    presence_tau, presence_failures
        Rule 38: prior of how presence falls with missed visits, and failures of prior weight on its level. -, count.
    carless_share
        Rule 38: of part invoices alone, a group of whose records a larger share names no car goes by its rate. 0-1.
    base_years, presence_years
        Rule 38: records younger than this give no installed base; younger than this, presence is not fitted. Years.
    confidence
        Two-sided confidence of limits in snapshots. 0-1.
    jump_km_per_year, jump_times_own, jump_grace_days
        Cleaning of odometers: driving faster than this, or than so many times the car's own median rate, with so
        many days of grace between two readings, is an impossible jump. km per year, -, days.
    rollover_share
        Cleaning of odometers: an instrument can have rolled over only from above this share of its range. 0-1.
    unit_switch_tolerance
        Cleaning of odometers: how near to a mile in km a ratio must be to be read as a change of unit. 0-1.
    odd_quantity_times, odd_quantity_least, odd_quantity_others
        A load tells, and takes, a quantity of a part above so many times its median, if it is at least so large; with
        fewer others of that part the median of all parts serves.
    rate_prior_years
        Rule 29: a car's own rate counts as much as its series' after so many years of readings. Years.
    complaint_cars
        A complaint is published in its own words once so many cars had it in the same words. Count.
    check_own_jobs, check_family_jobs, check_unseen_jobs
        Check order: closed jobs of a complaint from which a series speaks for itself; jobs that the other series weigh
        as much as, and causes nobody met yet. Count.
    check_sensitivity, check_sensitivity_jobs
        Check order: share of faults that a check finds, before the records speak, and jobs it weighs as much as.
        0-1, count.
    check_inspections
        Check order: inspections whose labour tells how long a check takes, where nobody stated it. Count.
    check_draws, check_sure_worlds
        Check order: plausible worlds drawn, and of 100 those in which a check must come first to be no tie. Count.
    """

    renumber_days: int = 60
    joining_days: int = 60
    follow_up_days: int = 45
    window_used_share: float = 0.60
    lay_up_days: int = 90
    since_new_days: int = 365
    grace_gaps: float = 2.0
    grace_most_days: int = 730
    blank_position_share: float = 0.30
    not_recorded_share: float = 0.20
    carry_on_months: int = 24
    distance_refusal_points: float = 15.0
    scale_failures: int = 10
    scale_rate_spread: float = 0.3
    risk_set_least: int = 5
    own_failures: int = 5
    upper_open_ratio: float = 20.0
    family_members: int = 4
    family_failed: int = 3
    variant_failures: int = 5
    variant_known_share: float = 0.5
    difference_p: float = 0.05
    hot_spot_p: float = 0.05
    scan_draws: int = 999
    prior_log_shape_mean: float = 0.4054651081081644
    prior_log_shape_sd: float = 1.0
    return_days: int = 90
    return_km: int = 1500
    return_repairs: int = 10
    follow_on_days: int = 120
    follow_on_least: int = 5
    follow_on_calendar_pairs: float = 10.0
    follow_on_together_share: float = 0.10
    service_level: float = 0.90
    review_days: int = 30
    holding_share: float = 0.0
    order_cost: float = 0.0
    shortage_cost: float = 0.0
    currency: str = ""
    active_months: int = 24
    campaign_share: float = 0.25
    rate_months: int = 60
    stream_months: int = 36
    joining_start_months: int = 24
    presence_tau: float = 4.0
    presence_failures: float = 5.0
    carless_share: float = 0.30
    base_years: float = 2.0
    presence_years: float = 3.0
    confidence: float = 0.90
    jump_km_per_year: float = 60_000.0
    jump_times_own: float = 6.0
    jump_grace_days: int = 30
    rollover_share: float = 0.8
    unit_switch_tolerance: float = 0.03
    rate_prior_years: float = 1.0
    odd_quantity_times: float = 20.0
    odd_quantity_least: float = 12.0
    odd_quantity_others: int = 3
    complaint_cars: int = 2
    check_own_jobs: int = 5
    check_family_jobs: float = 5.0
    check_unseen_jobs: float = 1.0
    check_sensitivity: float = 0.95
    check_sensitivity_jobs: float = 20.0
    check_inspections: int = 3
    check_draws: int = 500
    check_sure_worlds: int = 60

    def as_dict(self) -> dict[str, int | float | str]:
        """Return name and value of every default, in order of declaration."""
        return asdict(self)
