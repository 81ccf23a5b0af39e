"""The mapping file: what it may say, and that everything else is refused with the names it might have meant."""

import pytest

from analytics.errors import FeedError
from analytics.records import map_feed, parse_mapping
from analytics.records.mapping import Format, Settings
from analytics.records.mapping_file import parse_mapping_text
from analytics.records.reading import ReadOptions
from tests.records.feeds import MAPPINGS, feed, mapping

REPAIRS = 'file = "jobs.csv"\ncolumns = { vehicle_id = "Car", closed_on = "Day" }\n'


def refusal(text: str, source: str = 'source = "shop"\n') -> FeedError:
    with pytest.raises(FeedError) as caught:
        parse_mapping_text(source + text, "shop.toml")
    assert caught.value.where.startswith("shop.toml")
    assert caught.value.next_step
    return caught.value


def block(text: str = ""):
    return parse_mapping_text(f'source = "shop"\n[[repairs]]\n{REPAIRS}{text}', "shop.toml").blocks[0]


@pytest.mark.parametrize("path", sorted(MAPPINGS.glob("*.toml")), ids=lambda path: path.name)
def test_every_shipped_mapping_is_accepted(path):
    assert parse_mapping(path).source


def test_settings_and_blocks_are_kept_as_stated(tmp_path):
    found = parse_mapping(
        mapping(
            tmp_path,
            f"""
[settings]
odometer_unit = "mi"
service_level = 0.95
review_days = 14
[[repairs]]
{REPAIRS}
delimiter = ";"
encoding = "cp1252"
date_order = "dmy"
decimal = ","
thousands = "."
two_digit_years = 1930
""",
        )
    )
    assert found.source == "shop"
    assert found.settings == Settings(odometer_unit="mi", service_level=0.95, review_days=14)
    assert found.settings.as_dict() == {"odometer_unit": "mi", "service_level": 0.95, "review_days": 14}
    assert found.blocks[0].read == ReadOptions("cp1252", ";", "", 1)
    assert found.blocks[0].format == Format("dmy", ",", ".", 1930)


def test_one_block_may_be_written_with_single_brackets():
    found = parse_mapping_text(f'source = "shop"\n[repairs]\n{REPAIRS}', "shop.toml")
    assert [each.table for each in found.blocks] == ["repairs"]


def test_without_words_for_it_the_delimiter_is_a_comma():
    assert block().read.delimiter == ","


def test_settings_alone_go_with_a_native_feed(tmp_path):
    feed(tmp_path, vehicles="vehicle_id,series\na,S\n")
    found = map_feed(tmp_path, parse_mapping_text('[settings]\nodometer_unit = "mi"\n', "m.toml"))
    assert (found.source, found.settings, list(found.tables)) == ("", {"odometer_unit": "mi"}, ["vehicles"])


def test_true_is_written_yes_and_numbers_as_their_digits():
    assert block("constants = { came_for = true, quantity = 2 }\n").constants == {"came_for": "yes", "quantity": "2"}


def test_a_missing_mapping_file_is_refused(tmp_path):
    with pytest.raises(FeedError, match=r"there is no mapping file none\.toml"):
        parse_mapping(tmp_path / "none.toml")


def test_a_folder_is_no_mapping(tmp_path):
    with pytest.raises(FeedError, match="is a folder, not a mapping") as caught:
        parse_mapping(tmp_path)
    assert "--mapping shop.toml" in caught.value.next_step


def test_a_mapping_in_another_encoding_is_refused(tmp_path):
    (tmp_path / "m.toml").write_bytes('source = "Öl"'.encode("cp1252"))
    with pytest.raises(FeedError, match="not UTF-8"):
        parse_mapping(tmp_path / "m.toml")


def test_broken_toml_is_refused_with_the_line():
    assert "line 2" in refusal("[[repairs]\n").what


@pytest.mark.parametrize("source", ["", 'source = ""\n', 'source = "a:b"\n', 'source = "a/b"\n', "source = []\n"])
def test_a_mapping_must_name_its_source_by_a_word(source):
    refusal(f"[[repairs]]\n{REPAIRS}", source)


def test_a_mapping_that_fills_no_table_is_refused():
    assert refusal("").what == "the mapping fills no table"


@pytest.mark.parametrize(
    ("text", "seen", "known"),
    [
        ("colour = 1\n", "unknown key or table: colour", "repairs"),
        ("[[reparis]]\n", "unknown key or table: reparis", "repairs"),
        (f"[settings]\nunit = 'km'\n[[repairs]]\n{REPAIRS}", "unknown setting: unit", "odometer_unit"),
        (f"[[repairs]]\n{REPAIRS}colums = {{}}\n", "unknown key: colums", "columns"),
        ("[[repairs]]\nfile = 'a.csv'\ncolumns = { car = 'Car' }\n", "unknown column of repairs: car", "vehicle_id"),
        (f"[[repairs]]\n{REPAIRS}constants = {{ colour = 'red' }}\n", "unknown column of repairs: colour", "action"),
        (f"[[repairs]]\n{REPAIRS}units = {{ cost = 'EUR' }}\n", "unknown column with a unit: cost", "odometer"),
        (f"[[repairs]]\n{REPAIRS}units = {{ odometer = 'miles' }}\n", "odometer is 'miles'", "'mi'"),
        (f"[[repairs]]\n{REPAIRS}date_order = 'ymd'\n", "date_order is 'ymd'", "'dmy'"),
        (f"[[repairs]]\n{REPAIRS}encoding = 'ebcdic'\n", "encoding is 'ebcdic'", "'cp1252'"),
        (f"[[repairs]]\n{REPAIRS}delimiter = ':'\n", "delimiter is ':'", "';'"),
        (f"[[repairs]]\n{REPAIRS}skip_empty = ['cost']\n", "unknown filled column: cost", "closed_on"),
        (
            f"[[repairs]]\n{REPAIRS}[repairs.values.action]\nREPL = 'renewed'\n",
            "action is 'renewed'",
            "'replaced'",
        ),
        (
            f"[[repairs]]\n{REPAIRS}[repairs.text.component]\nfrom = 'T'\nrule = []\n",
            "unknown key: rule",
            "rules",
        ),
    ],
)
def test_unknown_words_are_refused_with_the_known_ones(text, seen, known):
    caught = refusal(text)
    assert caught.what == seen
    assert known in caught.next_step


@pytest.mark.parametrize(
    "text",
    [
        "[settings]\nodometer_unit = 'miles'\n",
        "[settings]\ndisplay_unit = 1\n",
        "[settings]\ncurrency = 'euro'\n",
        "[settings]\nservice_level = 90\n",
        "[settings]\nservice_level = 1.0\n",
        "[settings]\nreview_days = 0\n",
        "[settings]\nholding_share = 20\n",
        "[settings]\norder_cost = -1\n",
        "[settings]\nshortage_cost = true\n",
        "[settings]\nreview_days = true\n",
        "settings = 3\n",
    ],
)
def test_settings_out_of_their_range_are_refused(text):
    assert refusal(f"{text}[[repairs]]\n{REPAIRS}").where.endswith(("[settings]", "shop.toml"))


@pytest.mark.parametrize("name", ["", ".", "..", "../jobs.csv", "/tmp/jobs.csv", "a/b.csv", "C:\\jobs.csv", "a\\b.csv"])
def test_a_mapping_reaches_no_file_outside_its_folder(name):
    caught = refusal(f"[[repairs]]\nfile = '{name}'\ncolumns = {{ vehicle_id = 'Car', closed_on = 'Day' }}\n")
    assert caught.what == f"file is {name!r}"


def test_a_required_column_nothing_fills_is_refused():
    caught = refusal("[[repairs]]\nfile = 'a.csv'\ncolumns = { vehicle_id = 'Car' }\n")
    assert caught.what == "nothing fills closed_on, which repairs must have"


def test_repairs_need_no_number_of_their_own_but_readings_need_all_three():
    assert block().columns == {"vehicle_id": "Car", "closed_on": "Day"}
    assert "read_on, odometer" in refusal("[[readings]]\nfile = 'a.csv'\ncolumns = { vehicle_id = 'Car' }\n").what


@pytest.mark.parametrize(
    "text", ["n = [1, 2]\n", "templates = { record_id = '{Car}-{n}' }\n", "n = 3\n", "n = [-1]\n", "n = ['1']\n"]
)
def test_numbered_columns_need_their_numbers_and_the_other_way_round(text):
    refusal(f"[[repairs]]\n{REPAIRS}{text}")


@pytest.mark.parametrize("template", ["E1", "{Car", "{Car!r}", "{Car:>5}", ""])
def test_a_template_must_name_columns_in_plain_braces(template):
    assert (
        "template of record_id" in refusal(f"[[repairs]]\n{REPAIRS}templates = {{ record_id = '{template}' }}\n").what
    )


@pytest.mark.parametrize(
    ("pattern", "says"),
    [("(", "is not a regular expression"), ("(?=RH)", "look-around"), ("a*", "is found in every text"), ("", "every")],
)
def test_a_pattern_that_cannot_work_is_refused(pattern, says):
    text = f"[repairs.text.position]\nfrom = 'T'\nrules = [['{pattern}', 'left']]\n"
    assert says in refusal(f"[[repairs]]\n{REPAIRS}{text}").what
    text = f"[repairs.text.position]\nfrom = 'T'\nremove = ['{pattern}']\nrules = [['LH', 'left']]\n"
    assert says in refusal(f"[[repairs]]\n{REPAIRS}{text}").what


@pytest.mark.parametrize("rules", ["rules = []", "rules = [['LH']]", "rules = 'LH'", "rules = ['LH']"])
def test_text_rules_are_pairs_of_pattern_and_word(rules):
    refusal(f"[[repairs]]\n{REPAIRS}[repairs.text.position]\nfrom = 'T'\n{rules}\n")


def test_a_text_rule_may_only_give_words_of_the_list():
    text = "[repairs.text.action]\nfrom = 'T'\nrules = [['REPL', 'swapped']]\n"
    assert refusal(f"[[repairs]]\n{REPAIRS}{text}").what == "action is 'swapped'"


def test_decimal_and_thousands_mark_must_differ():
    assert "both" in refusal(f"[[repairs]]\n{REPAIRS}decimal = ','\nthousands = ','\n").what


@pytest.mark.parametrize("text", ["distinct = 'yes'\n", "drop = 'Owner'\n", "where = ['x']\n", "heading_line = 0\n"])
def test_values_of_the_wrong_kind_are_refused(text):
    refusal(f"[[repairs]]\n{REPAIRS}{text}")


def test_a_list_where_columns_are_named_is_refused():
    refusal("[[repairs]]\nfile = 'a.csv'\ncolumns = []\n")
