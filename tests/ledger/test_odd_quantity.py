"""A quantity far above the usual is taken, and told."""

from tests.ledger.feeds import ask, job, put

USUAL = [job(str(n), part_no="P1", quantity=str(1 + n % 2)) for n in range(5)]


def sale(quantity, part_no="P1"):
    return {"part_no": part_no, "sold_on": "2020-01-02", "quantity": quantity}


def test_a_quantity_far_above_the_others_of_its_part_is_taken_and_told(tmp_path):
    report = put(tmp_path, repairs=[*USUAL, job("9", part_no="P1", quantity="9999")])
    assert report.count("accepted") == 7
    assert ask(tmp_path, "select quantity from repairs where record_id = '9'") == [(9999.0,)]
    (told,) = report.cautions
    assert told in report.warnings()
    assert "repairs, repairs.csv row 6: quantity 9999 of P1 is far above the other quantities of this part (" in told


def test_a_counter_sale_is_compared_with_what_the_ledger_holds(tmp_path):
    put(tmp_path, repairs=USUAL)
    (told,) = put(tmp_path, sales=[sale("1"), sale("4000")]).cautions
    assert "sales, sales.csv row 2: quantity 4000 of P1" in told


def test_a_part_with_few_others_is_compared_with_all_parts(tmp_path):
    (told,) = put(tmp_path, repairs=[*USUAL, job("9", part_no="P2", quantity="500")]).cautions
    assert "of P2 is far above the quantities of other parts (1.5 is usual)" in told


def test_usual_quantities_are_not_told(tmp_path):
    fasteners = [job(str(n), part_no="bolt", quantity=str(40 + n)) for n in range(5)]
    assert put(tmp_path, repairs=[*USUAL, *fasteners, job("9", part_no="P1", quantity="11")]).cautions == ()


def test_the_same_feed_again_tells_nothing_new(tmp_path):
    rows = [*USUAL, job("9", part_no="P1", quantity="9999")]
    put(tmp_path, repairs=rows)
    assert put(tmp_path, repairs=rows).cautions == ()


def test_five_are_shown_and_the_others_counted(tmp_path):
    many = [job(f"x{n}", part_no="P1", quantity="5000") for n in range(7)]
    common = [job(f"y{n}", part_no="P1", quantity="1") for n in range(20)]
    told = put(tmp_path, repairs=[*common, *many]).cautions
    assert len(told) == 6
    assert told[-1] == "2 more quantities far above the usual"
