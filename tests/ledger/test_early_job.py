"""A job closed before its car was built is taken, and told."""

from tests.ledger.feeds import CAR, ask, job, put


def test_a_job_closed_in_a_year_before_the_car_was_built_is_taken_and_told(tmp_path):
    jobs = [job("1", closed_on="1900-01-01"), job("2", closed_on="1985-02-01"), job("3")]
    report = put(tmp_path, vehicles=[{**CAR, "built_on": "1985"}], repairs=jobs)
    assert ask(tmp_path, "select count(*) from repairs") == [(3,)]
    (told,) = report.cautions
    assert told.startswith("repairs, repairs.csv row 1: closed on 1900-01-01, but car A was built in 1985; taken as")
    assert told in report.warnings()


def test_five_are_shown_and_the_others_counted(tmp_path):
    jobs = [job(str(n), closed_on="1900-01-01") for n in range(7)]
    told = put(tmp_path, vehicles=[{**CAR, "built_on": "1985-03-02"}], repairs=jobs).cautions
    assert len(told) == 6
    assert told[-1] == "2 more jobs closed before the car was built"


def test_a_car_without_a_building_day_tells_nothing(tmp_path):
    assert put(tmp_path, vehicles=[CAR], repairs=[job("1", closed_on="1900-01-01")]).cautions == ()
