"""Type a feed, load it and analyse it, as a new user does."""

from analytics.cli import main


def analysed(data, **files):
    """Load tables given as CSV text by name, analyse them, and return the data folder."""
    feed = data / "feed"
    feed.mkdir(parents=True)
    for name, text in files.items():
        (feed / f"{name}.csv").write_text(text, encoding="utf-8")
    assert main(["load", str(feed), "--data", str(data)]) == 0
    assert main(["analyse", "--data", str(data)]) == 0
    return data
