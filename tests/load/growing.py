"""Two groups of web processes on one PostgreSQL, and a replica that their pages read from."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from tests.load import people, servers

GROUPS, SECONDS = 2, 60.0


@dataclass(slots=True)
class Seen:
    """What the servers count: transactions and rows read, and how far the replica was behind."""

    day: people.Day
    read_on_primary: int = 0
    read_on_replica: int = 0
    behind_bytes: list[int] = field(default_factory=list)
    behind_ms: list[float] = field(default_factory=list)


def rows_read(port: int) -> int:
    """Rows that queries of the site fetched on a server so far."""
    with psycopg.connect(f"postgres://coverstead@{servers.HOST}:{port}/site") as line:
        sql = "SELECT tup_returned + tup_fetched FROM pg_stat_database WHERE datname = 'site'"
        row = line.execute(sql).fetchone()
    return int(row[0]) if row else 0


def watch(port: int, seen: Seen, over: threading.Event) -> None:
    """Looks twice a second how far the replica is behind."""
    sql = (
        "SELECT pg_wal_lsn_diff(pg_current_wal_lsn(), replay_lsn)::bigint, "
        "coalesce(extract(epoch FROM replay_lag), 0)::float FROM pg_stat_replication"
    )
    address = f"postgres://coverstead@{servers.HOST}:{port}/site"
    with psycopg.connect(address, autocommit=True) as line:
        while not over.wait(0.5):
            for behind, lag in line.execute(sql).fetchall():
                seen.behind_bytes.append(behind)
                seen.behind_ms.append(lag * 1e3)


def run(
    folder: Path, database: str, port: int, web_port: int, many: int, seconds: float, think: float
) -> Seen:
    """`port` is the primary's; the replica takes the next one, the groups `web_port` and the next."""
    with servers.replica(folder, port, port + 1) as aside:
        environment = servers.settings_of(database, folder, REPLICA_URL=aside)
        logs = [folder / f"group{group}.log" for group in range(GROUPS)]
        with (
            servers.site(web_port, environment, logs[0]) as one,
            servers.site(web_port + 1, environment, logs[1]) as two,
        ):
            crowd = people.crowd(many, (one.port, two.port))
            time.sleep(2)  # what that read is written down a moment later
            before = rows_read(port), rows_read(port + 1)
            over = threading.Event()
            seen = Seen(people.Day(0, 0, [], [], [], 0, 0, 0, 0, []))
            looking = threading.Thread(target=watch, args=(port, seen, over), daemon=True)
            looking.start()
            seen.day = people.day(crowd, (one, two), seconds, think)
            over.set()
            looking.join(10)
            # The servers write down what was read about a second late.
            time.sleep(2)
            seen.read_on_primary = rows_read(port) - before[0]
            seen.read_on_replica = rows_read(port + 1) - before[1]
    return seen


def said(seen: Seen) -> list[str]:
    lines = people.said(seen.day)
    whole = seen.read_on_primary + seen.read_on_replica
    lines.append(
        f"rows read: {seen.read_on_replica:,} on the replica, {seen.read_on_primary:,} on the primary "
        f"({seen.read_on_replica / max(whole, 1):.0%} aside)"
    )
    if seen.behind_bytes:
        bytes_, lag = sorted(seen.behind_bytes), sorted(seen.behind_ms)
        lines.append(
            f"the replica was behind by {bytes_[len(bytes_) // 2]:,} bytes in the median, {bytes_[-1]:,} at "
            f"most; by {lag[len(lag) // 2]:.1f} ms in the median, {lag[-1]:.1f} ms at most"
        )
    return lines
