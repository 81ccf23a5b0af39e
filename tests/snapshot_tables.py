"""Read a table of the newest snapshot of a data folder."""

from analytics.snapshot import latest_path, open_snapshot, read_table


def table(data_dir, name, /, **equals):
    with open_snapshot(latest_path(data_dir)) as connection:
        return read_table(connection, name, **equals)
