"""How far long work has come, for whoever watches it."""

from collections.abc import Callable

from exam_app.store.rewriting import Carry
from exam_app.store.rows import Tables

Progress = Callable[[int, int], None]
"""Told how much is done, and of how much; called from the thread that works."""


def silent(_done: int, _whole: int) -> None:
    """Tell nobody."""


def counted(carry: Carry, tables: Tables, progress: Progress) -> Carry:
    """Tell of every body that is carried into a new file."""
    whole = sum(
        1 for rows in tables.values() for _, where in rows.entries.values() if where
    )
    done = 0

    def carry_one(table: str, document_id: str, where: bytes) -> bytes:
        nonlocal done
        done += 1
        progress(done, whole)
        return carry(table, document_id, where)

    return carry_one


def second_half(progress: Progress) -> Progress:
    """Tell of work that began when half of all was done."""
    return lambda done, whole: progress(whole + done, 2 * whole)


def first_half(progress: Progress) -> Progress:
    """Tell of work after which as much is still to do."""
    return lambda done, whole: progress(done, 2 * whole)
