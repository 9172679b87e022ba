"""Sharing: which readers a player allows, and what readers noted."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from typing import Any, Final

import sqlalchemy as sa

from server.store.account_tables import ACCOUNT, NOTE, SHARE, SQUAD_MEMBER
from server.store.accounts import Account, AccountError, account_by_name, normalize, now
from server.store.credentials import INVITATION, spent_in
from server.store.engine import reading, writing
from server.store.rows import LatestNote, NoteRow, ShareRow

READERS: Final = ("coach", "analyst")
ABOUT: Final = ("round", "club", "trial")


def readable_players(connection: sa.Connection, account: Account) -> set[str]:
    """Ids of the players that an account may read: its own, and those who share with it or with a squad of its."""
    own = {account.player_id} if account.role == "player" and account.player_id else set()
    if account.role not in READERS:
        return own
    squads = sa.select(SQUAD_MEMBER.c.squad).where(SQUAD_MEMBER.c.account_id == account.account_id)
    query = sa.select(SHARE.c.player_id).where(
        SHARE.c.ended_at.is_(None), sa.or_(SHARE.c.reader_id == account.account_id, SHARE.c.squad.in_(squads))
    )
    return own | {row[0] for row in connection.execute(query)}


def sharing_players(connection: sa.Connection) -> set[str]:
    """Ids of the players who share with anybody now, a reader or a squad."""
    return set(connection.execute(sa.select(SHARE.c.player_id).where(SHARE.c.ended_at.is_(None))).scalars())


def share(engine: sa.Engine, player_id: str, *, reader: str | None, squad: str | None) -> str:
    """Let a reader (by name) or a squad read a player's rounds; returns the share's id.

    AccountError when there is no such coach or analyst.
    """
    squad = None if squad is None else normalize(squad)
    with writing(engine) as connection:
        reader_id = None
        if reader is not None:
            account = account_by_name(connection, reader)
            if account is None or account.role not in READERS or account.disabled:
                raise AccountError(f"reader: there is no coach or analyst {reader!r}")
            reader_id = account.account_id
        return _shared(connection, player_id, reader_id, squad)


def _shared(connection: sa.Connection, player_id: str, reader_id: str | None, squad: str | None) -> str:
    """The id of the share, made when there is none."""
    same = SHARE.c.reader_id == reader_id if reader_id else SHARE.c.squad == squad
    open_one = sa.select(SHARE.c.share_id).where(SHARE.c.player_id == player_id, SHARE.c.ended_at.is_(None), same)
    found = connection.execute(open_one).scalar()
    if found is not None:
        return str(found)
    row = {
        "share_id": str(uuid.uuid4()),
        "player_id": player_id,
        "reader_id": reader_id,
        "squad": None if reader_id else squad,
        "since": now(),
    }
    connection.execute(sa.insert(SHARE), row)
    return str(row["share_id"])


def accept_invitation(engine: sa.Engine, key: str, code: str, reader: Account) -> str | None:
    """Spend a player's invitation and let the reader in, both or neither; returns the player's id.

    None for a code that is wrong, used, taken back or too old. A database that is busy leaves the code good.
    """
    with writing(engine) as connection:
        player = spent_in(connection, key, code, INVITATION)
        if player is None or player.player_id is None:
            return None
        _shared(connection, player.player_id, reader.account_id, None)
        return player.player_id


def squad_known(connection: sa.Connection, squad: str) -> bool:
    """Whether a coach or an analyst reads for a squad of that name."""
    return bool(_members(connection, normalize(squad)))


def shares(connection: sa.Connection, player_id: str, *, ended: bool = False) -> list[ShareRow]:
    """Who may read a player now, in the order in which they were let in; of one moment accounts by name, then squads.
    `ended`: who could once is listed too."""
    query = (
        sa.select(SHARE.c.share_id, ACCOUNT.c.name.label("reader"), SHARE.c.squad, SHARE.c.since, SHARE.c.ended_at)
        .outerjoin(ACCOUNT, ACCOUNT.c.account_id == SHARE.c.reader_id)
        .where(SHARE.c.player_id == player_id)
        .order_by(SHARE.c.since, SHARE.c.squad.is_not(None), ACCOUNT.c.name, SHARE.c.squad, SHARE.c.share_id)
    )
    if not ended:
        query = query.where(SHARE.c.ended_at.is_(None))
    return [
        {
            "share_id": row["share_id"],
            "reader": row["reader"],
            "squad": row["squad"],
            "since": row["since"],
            "ended_at": row["ended_at"],
            "readers": _readers(connection, row),
        }
        for row in connection.execute(query).mappings().all()
    ]


def _readers(connection: sa.Connection, row: Any) -> list[str]:
    return [row["reader"]] if row["squad"] is None else _members(connection, row["squad"])


def _members(connection: sa.Connection, squad: str) -> list[str]:
    query = (
        sa.select(ACCOUNT.c.name)
        .join(SQUAD_MEMBER, SQUAD_MEMBER.c.account_id == ACCOUNT.c.account_id)
        .where(SQUAD_MEMBER.c.squad == squad, ACCOUNT.c.role.in_(READERS), ACCOUNT.c.disabled_at.is_(None))
        .order_by(ACCOUNT.c.name)
    )
    return [found[0] for found in connection.execute(query)]


def end_share(engine: sa.Engine, player_id: str, share_id: str) -> bool:
    """End a share at once. Returns whether there was one to end."""
    with writing(engine) as connection:
        done = connection.execute(
            sa.update(SHARE)
            .where(SHARE.c.player_id == player_id, SHARE.c.share_id == share_id, SHARE.c.ended_at.is_(None))
            .values(ended_at=now())
        )
    return done.rowcount == 1


def write_note(engine: sa.Engine, player_id: str, author: Account, about: str, about_id: str, words: str) -> str:
    """Note something on a round, a club or a trial of a player; returns the note's id."""
    row = {
        "note_id": str(uuid.uuid4()),
        "player_id": player_id,
        "author_id": author.account_id,
        "about": about,
        "about_id": about_id,
        "words": words,
        "written_at": now(),
    }
    with writing(engine) as connection:
        connection.execute(sa.insert(NOTE), row)
    return str(row["note_id"])


def notes(engine: sa.Engine, player_id: str) -> list[NoteRow]:
    """All notes on a player, oldest first, with the author's name."""
    query = (
        sa.select(
            NOTE.c.note_id,
            ACCOUNT.c.name.label("author"),
            NOTE.c.about,
            NOTE.c.about_id,
            NOTE.c.words,
            NOTE.c.written_at,
        )
        .join(ACCOUNT, ACCOUNT.c.account_id == NOTE.c.author_id)
        .where(NOTE.c.player_id == player_id)
        .order_by(NOTE.c.written_at, NOTE.c.note_id)
    )
    with reading(engine) as connection:
        return [
            {
                "note_id": row["note_id"],
                "author": row["author"],
                "about": row["about"],
                "about_id": row["about_id"],
                "words": row["words"],
                "written_at": row["written_at"],
            }
            for row in connection.execute(query).mappings()
        ]


def latest_notes(connection: sa.Connection, player_ids: Collection[str]) -> dict[str, LatestNote]:
    """The last note on each of some players; none for a player without one."""
    last = (
        sa.select(NOTE.c.player_id, sa.func.max(NOTE.c.written_at).label("written_at"))
        .where(NOTE.c.player_id.in_(player_ids))
        .group_by(NOTE.c.player_id)
        .subquery()
    )
    same = sa.and_(NOTE.c.player_id == last.c.player_id, NOTE.c.written_at == last.c.written_at)
    query = (
        sa.select(NOTE.c.player_id, ACCOUNT.c.name.label("author"), NOTE.c.words, NOTE.c.written_at)
        .join(last, same)
        .join(ACCOUNT, ACCOUNT.c.account_id == NOTE.c.author_id)
        .order_by(NOTE.c.note_id)  # of two in one moment the later id speaks, as in `notes`
    )
    return {
        row["player_id"]: {"author": row["author"], "words": row["words"], "written_at": row["written_at"]}
        for row in connection.execute(query).mappings()
    }


def remove_note(engine: sa.Engine, player_id: str, account: Account, note_id: str) -> bool:
    """Take back a note: its author may, and the player whom it is about. Returns whether there was one."""
    found = sa.and_(NOTE.c.player_id == player_id, NOTE.c.note_id == note_id)
    if account.player_id != player_id:
        found = sa.and_(found, NOTE.c.author_id == account.account_id)
    with writing(engine) as connection:
        done = connection.execute(sa.delete(NOTE).where(found))
    return done.rowcount == 1
