"""Telephone numbers, e-mail addresses and number plates in free text are not kept; figures of the trade are."""

import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.ledger import load, open_ledger, quarantine_rows, rebuild, set_aside_rows
from analytics.records import dry_run, judge, map_feed, parse_mapping
from analytics.records.mapping_file import parse_mapping_text
from analytics.records.private_text import SUSPECT, private_kind
from analytics.records.reading import ReadOptions, read_files
from tests.records.feeds import LOADED_ON, feed, mapping, open_data, rows

TELEPHONES = [
    "owner on 01632 960123",
    "ring 07700 900123 when ready",
    "ring back on 960 123 4",
    "rang owner 5550123",
    "call him at 555 01 23",
    "Tel. 555-0123, ask for the brother",
    "tel:0555/123456",
    "phone 555 0123",
    "phoned owner on 5550123",
    "mobile no. 0700 900 123",
    "+44 1632 960123",
    "+49 (0)555 123456",
    "0044 1632 960123",
    "00441632960123",
    "(020) 7946 0958",
    "020 7946 0958 after six",
    "0555/1234567",
    "0555-1234567",
    "06 12 34 56 78",
    "06.12.34.56.78",
    "07700900123",
    "0612345678",
    "(555) 012-3456",
    "call 555-012-3456",
    "leaks at 61 240 km, owner 01632 960123",
]
E_MAILS = ["j.smith@example.org", "mail to anna-b@mail.example.com please", "write j.smith (at) example.org"]
PLATES = [
    "AB12 CDE still leaks",
    "AB12CDE",
    "AB-123-CD",
    "came as M-AB 1234",
    "reg no. ABC 123D",
    "registration A123 BCD",
    "number plate XY 4711 loose",
    "reg: 12-AB-34",
]
TRADE = [
    "fitted 12-345-678",
    "part no 0123 456789 fitted",
    "P/N 0171 1234567",
    "013 997 33 48 fitted",
    "001 830 12 45",
    "000 989 47 01",
    "0 438 100 123",
    "0438100123",
    "0 280 150 036 swapped",
    "117 589 00 63 00",
    "RH120C, LH 12 O'CLOCK, 24V",
    "RH-A 4 REPLACE",
    "CALL OUT 60176281",
    "ring 24 x 30, set 2.5-3.0 mm",
    "piston ring no 1234567",
    "called for part 1234567",
    "61240 km", "061240 / 061310 km", "61.240 km on arrival", "odometer 0612345678",
    "2024-05-02 to 2024-05-09", "02.05.2024", "02/05/24-09/05/24", "05/2024", "20240502",
    "end float 0.05 - 0.10 mm", "2 x 0.35 mm, 4 x 0.40", "1200 rpm 14.2 V 6.5 bar",
    "chassis 1234567890", "engine no 0612 345678", "job 0012345", "invoice 2019/004711",
    "DIN 71412, M8x1.25x30, SAE 10W40", "tyre 185/65 R15 88H", "relay 12V 4RA 003 510",
    "oil 15W-40 4.5 l 10-40", "torque 110-120 Nm", "size 1 3/4 x 16", "1,234.50", "-40 +120",
    "number plate lamp 5W", "voltage reg 14.2", "pressure plate 240 mm", "clutch plate 12-345-678",
    "BMC 1098 block, bore +0.030", "+0.25 bearing shells 4 off", "seal 35x52x7 10 pcs 2020", "HT leads 1-3-4-2",
]  # fmt: skip


def kind(text):
    frame = pl.DataFrame({"text": [text]})
    suspect = frame.filter(pl.col("text").str.contains(SUSPECT))
    return suspect.select(private_kind(pl.col("text")).alias("kind"))["kind"][0] if suspect.height else None


@pytest.mark.parametrize("text", TELEPHONES)
def test_a_telephone_number_is_found(text):
    assert kind(text) == "telephone number"


@pytest.mark.parametrize("text", E_MAILS)
def test_an_e_mail_address_is_found(text):
    assert kind(text) == "e-mail address"


@pytest.mark.parametrize("text", PLATES)
def test_a_number_plate_is_found(text):
    assert kind(text) == "number plate"


@pytest.mark.parametrize("text", TRADE)
def test_a_figure_of_the_trade_tells_nobody(text):
    assert kind(text) is None


def test_no_text_of_the_excavators_is_taken_for_a_person():
    file = open_data("uwa_excavators") / "excavator_2015_raw.csv"
    texts = read_files([file], ReadOptions(escape="\\"))[0].frame.select(text="OriginalShorttext").drop_nulls()
    assert texts.height == 5485
    assert texts.filter(pl.col("text").str.contains(r"\d{2}")).height > 400
    assert texts.filter(private_kind(pl.col("text")).is_not_null())["text"].to_list() == []


NOTES = """
record_id,vehicle_id,closed_on,component,finding,note
J1,car1,2024-05-02,hose,split,ring 07700 900123
J2,car1,2024-05-03,hose,"seen by m.jones@example.org",fitted 12-345-678
J3,car1,2024-05-04,hose,"split "after" ring 07700 900123",x
"""


def shop(folder, text=NOTES):
    return feed(folder, vehicles="vehicle_id,series\ncar1,S1\n", repairs=text)


def test_the_text_alone_is_set_aside_masked_and_the_record_stays(tmp_path):
    found = map_feed(shop(tmp_path))
    ruled = judge("repairs", found.tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert rows(ruled.accepted, "record_id", "finding", "note") == [
        ("J1", "split", None),
        ("J2", None, "fitted 12-345-678"),
    ]
    assert rows(ruled.set_aside, "row_no", "column", "value") == [
        (1, "note", "(not kept: telephone number)"),
        (2, "finding", "(not kept: e-mail address)"),
    ]
    assert all('state free_text = "keep" under [settings]' in says for says in ruled.set_aside["says"])
    assert "repairs: column note: texts not kept, because they seem to tell a person: telephone number 1" in found.notes


def test_the_text_of_a_row_that_cannot_be_split_is_not_kept_either(tmp_path):
    ruled = judge("repairs", map_feed(shop(tmp_path)).tables["repairs"], loaded_on=LOADED_ON, settings={})
    (refused,) = ruled.quarantined.to_dicts()
    assert "900123" not in str(refused)
    assert "a person's telephone number: mend row 3 of repairs.csv in the file itself" in refused["says"]


def test_nothing_below_the_data_folder_holds_what_was_masked(tmp_path):
    (tmp_path / "shop").mkdir()
    data = tmp_path / "data"
    report = load(data, map_feed(shop(tmp_path / "shop")), loaded_on=LOADED_ON)
    assert (report.count("accepted"), report.count("set_aside"), report.count("quarantined")) == (3, 2, 1)
    rebuild(data)
    for file in (each for each in data.rglob("*") if each.is_file()):
        content = file.read_bytes()
        assert b"900123" not in content, file
        assert b"m.jones" not in content, file
    frames = [pl.read_parquet(each) for each in data.rglob("*.parquet")]
    assert frames
    assert not any("900123" in str(frame.rows()) or "m.jones" in str(frame.rows()) for frame in frames)
    with open_ledger(data, write=False) as connection:
        told = str(set_aside_rows(connection).rows()) + str(quarantine_rows(connection).rows())
    assert "(not kept: telephone number)" in told
    assert "900123" not in told


def test_a_fleet_without_private_persons_keeps_its_texts_and_the_dry_run_says_so(tmp_path):
    shop(tmp_path)
    stated = mapping(tmp_path, '[settings]\nfree_text = "keep"\n')
    found = map_feed(tmp_path, parse_mapping(stated))
    assert found.tables["repairs"]["note"][0] == "ring 07700 900123"
    said = dry_run(tmp_path, stated, loaded_on=LOADED_ON)
    assert any(line.startswith("note: free text is kept as it is") for line in said)
    assert any(
        "set aside: 1 x note, first in repairs.csv, row 1" in line
        for line in dry_run(tmp_path, None, loaded_on=LOADED_ON)
    )


def test_another_word_for_free_text_is_refused():
    with pytest.raises(FeedError, match="free_text is 'hide'"):
        parse_mapping_text('[settings]\nfree_text = "hide"', "m")


def test_a_masked_text_that_comes_back_from_a_quarantine_sheet_is_still_no_value():
    text = pl.DataFrame({
        "record_id": ["J1"], "vehicle_id": ["car1"], "closed_on": ["2024-05-02"],
        "note": ["(not kept: telephone number)"], "file": ["mend.xlsx"], "row_no": [1],
    })  # fmt: skip
    assert judge("repairs", text, loaded_on=LOADED_ON, settings={}).accepted["note"].to_list() == [None]
