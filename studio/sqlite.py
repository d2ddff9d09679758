"""How SQLite is opened so that an answered entry is on the disk."""

import sqlite3


def wal_is_safe(version):
    """Whether write-ahead logging can lose nothing in this version of SQLite, a tuple of three numbers.

    Before 3.51.3 (3.50.7 and 3.44.6 where those lines are kept in repair) two connections that write and tidy
    up the log at the same moment can corrupt the database or lose commits (https://sqlite.org/wal.html,
    section 11).
    """
    return version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)


JOURNAL_MODE = "WAL" if wal_is_safe(sqlite3.sqlite_version_info) else "TRUNCATE"

# IMMEDIATE: a transaction that reads and then writes must wait for its turn, not fail at once.
# FULL: the phone deletes its copy of an entry when we answer, so an answer must mean that it is on the disk.
OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 5,
    "init_command": f"PRAGMA journal_mode={JOURNAL_MODE};PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;",
}
