"""A mapping and a feed reach no file outside the feed's folder, whatever they name."""

import pytest

from analytics.errors import FeedError
from analytics.records import map_feed, parse_mapping
from analytics.records.mapping_file import parse_mapping_text
from tests.records.feeds import feed, mapped, mapping

BLOCK = """
[[vehicles]]
file = 'FILE'
columns = { vehicle_id = "vehicle_id", series = "series" }
"""


@pytest.fixture
def folder(tmp_path):
    """Return a feed's folder beside a file that is none of its business."""
    feed(tmp_path, secret="vehicle_id,series\nx,S\n")
    inner = tmp_path / "feed"
    inner.mkdir()
    return feed(inner, vehicles="vehicle_id,series\na,S1\n")


@pytest.mark.parametrize(
    "file",
    [
        "/etc/passwd",
        "../secret.csv",
        "..",
        ".",
        "",
        "sub/../../secret.csv",
        "C:secret.csv",
        r"..\secret.csv",
        "~/x.csv",
    ],
)
def test_a_mapping_that_names_a_path_is_refused(file):
    with pytest.raises(FeedError, match="file is"):
        parse_mapping_text(f'source = "shop"{BLOCK.replace("FILE", file)}', "m")


@pytest.mark.parametrize("file", ["*", "*.csv", "[v]*.csv", "vehicles.csv"])
def test_a_pattern_finds_files_of_the_folder_only(folder, file):
    sub = folder / "below"
    sub.mkdir()
    feed(sub, deeper="vehicle_id,series\ny,S\n")
    found = map_feed(folder, parse_mapping(mapping(folder.parent, BLOCK.replace("FILE", file))))
    assert found.tables["vehicles"]["vehicle_id"].to_list() == ["a"]


def test_a_pattern_of_all_folders_finds_nothing(folder):
    with pytest.raises(FeedError, match=r"there is no file \*\* in the feed"):
        map_feed(folder, parse_mapping(mapping(folder.parent, BLOCK.replace("FILE", "**"))))


def test_a_link_out_of_the_folder_is_refused_with_and_without_a_mapping(folder):
    (folder / "repairs.csv").symlink_to(folder.parent / "secret.csv")
    for read in (lambda: map_feed(folder), lambda: mapped(folder, BLOCK.replace("FILE", "repairs.csv"))):
        with pytest.raises(FeedError, match="is a link that leads out of the feed's folder"):
            read()


def test_a_linked_folder_within_the_feed_is_not_entered(folder):
    (folder / "more").symlink_to(folder.parent, target_is_directory=True)
    assert [name for name, _ in map_feed(folder).files] == ["vehicles.csv"]


def test_a_link_within_the_folder_is_a_file_like_any_other(folder):
    (folder / "repairs.csv").write_text("record_id,vehicle_id,closed_on\nJ1,a,2024-05-02\n")
    (folder / "readings.csv").symlink_to(folder / "read.txt")
    (folder / "read.txt").write_text("vehicle_id,read_on,odometer\na,2024-05-02,5\n")
    assert map_feed(folder).tables["readings"].height == 1
