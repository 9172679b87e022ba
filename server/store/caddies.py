"""Caddies: who enters the shots of one round for its player, invited by the player for that round alone.

An invitation is a code that works once. Whoever takes it up gives a name, and has a secret of that one round from then
on. It ends with the first closing of the round that reaches the server, when the player or the caddie ends it, with a
new password of the player, and at the latest `LASTS` after it was made. A round that is opened again needs a new one.
The secrets are kept as `server.store.credentials` keeps them.
"""

from __future__ import annotations

import json
import secrets
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import iso
from server.records.fold import PUT
from server.store.account_tables import CADDIE
from server.store.accounts import LONGEST_NAME, normalize, now
from server.store.credentials import NOTED_EVERY, keyed_hash
from server.store.engine import reading, writing
from server.store.log import ErasedError, lock_player
from server.store.players import player_by_id
from server.store.rows import CaddieRow
from server.store.tables import CHANGE, PLAYER, ROUND

LASTS: Final = timedelta(days=2)
"""From the invitation on: long enough for a phone that finds no network before the next evening. A choice of this
tool."""
MOST_AT_ONCE: Final = 3
"""Invitations and caddies of one round that are good at one time. A choice of this tool."""
MOST_LISTED: Final = 200

INVITED: Final = "invited"
ENTERING: Final = "entering"
ENDED: Final = "ended"

TAKEN_BACK: Final = "the invitation was withdrawn"
TOO_OLD: Final = "two days are over"
NO_ROUND: Final = "the round was deleted"
CLOSED: Final = "the round was finished"


class CaddieRefusedError(ValueError):
    """An invitation that cannot be made or taken up, in plain words."""


class CaddieEndedError(RuntimeError):
    """A caddie whose time is over. `why` in words, `player` is the player's name."""

    def __init__(self, why: str, player: str) -> None:
        self.why, self.player = why, player
        super().__init__(
            f"Entering for {player} has ended: {why}. What was not sent before stays on your phone; {player} can let "
            "it in with a new invitation to the open round."
        )


@dataclass(frozen=True)
class Caddie:
    """Who enters one round of a player. `device_id`: the phone that took the invitation up, the author of all its
    changes; `name`: as the caddie gave it."""

    caddie_id: str
    player_id: str
    round_id: str
    name: str
    device_id: str
    created_at: str
    expires_at: str


def invite(engine: sa.Engine, key: str, player_id: str, round_id: str) -> tuple[str, str, str]:
    """Make an invitation to an open round; returns its id, its code, which is not kept, and when it ends.

    CaddieRefusedError for a round that is closed or not there, or one with `MOST_AT_ONCE` already.
    """
    code, moment = secrets.token_urlsafe(32), datetime.now(UTC)
    row = {
        "caddie_id": str(uuid.uuid4()),
        "player_id": player_id,
        "round_id": round_id,
        "code_hash": keyed_hash(key, code),
        "created_at": iso(moment),
        "expires_at": iso(moment + LASTS),
    }
    with writing(engine) as connection:
        lock_player(connection, player_id, iso(moment))
        round_ = _round(connection, player_id, round_id)
        if round_ is None or round_.deleted:
            raise CaddieRefusedError("There is no such round here: send it first, then invite.")
        if round_.closed:
            raise CaddieRefusedError("This round is finished. Open it again to let somebody enter.")
        of_round = sa.and_(CADDIE.c.player_id == player_id, CADDIE.c.round_id == round_id)
        good = [one for one in connection.execute(sa.select(CADDIE).where(of_round)) if _ended(connection, one) is None]
        if len(good) >= MOST_AT_ONCE:
            raise CaddieRefusedError(
                f"{MOST_AT_ONCE} invitations or caddies of this round are active already; end one of them first."
            )
        _forget_unused(connection, player_id)
        connection.execute(sa.insert(CADDIE), row)
    return str(row["caddie_id"]), code, str(row["expires_at"])


def _forget_unused(connection: sa.Connection, player_id: str) -> None:
    """Invitations that nobody took up and nobody can: of caddies the name stays, for shots have it as their author."""
    unused = sa.and_(CADDIE.c.player_id == player_id, CADDIE.c.taken_at.is_(None), CADDIE.c.expires_at < now())
    connection.execute(sa.delete(CADDIE).where(unused))


def take_up(engine: sa.Engine, key: str, code: str, name: str, device_id: str) -> tuple[Caddie, str] | None:
    """Spend an invitation; returns the caddie and the secret, which is not kept. None for a code that is wrong, used or
    of a time that is over. CaddieRefusedError for a name that is none, ErasedError where the player was erased."""
    named = normalize(name)
    if not 1 <= len(named) <= LONGEST_NAME or not named.isprintable():
        raise CaddieRefusedError(f"A name has 1 to {LONGEST_NAME} printable characters.")
    secret, moment = secrets.token_urlsafe(32), now()
    same = CADDIE.c.code_hash == keyed_hash(key, code)
    with writing(engine) as connection:
        row = connection.execute(sa.select(CADDIE).where(same).with_for_update()).first()
        if row is None:
            return None
        _refuse_erased(connection, row.player_id)
        if row.taken_at is not None or _ended(connection, row) is not None:
            return None
        taken = {
            "secret_hash": keyed_hash(key, secret),
            "name": named,
            "device_id": device_id,
            "taken_at": moment,
            "last_used_at": moment,
        }
        once = sa.and_(same, CADDIE.c.taken_at.is_(None))
        if connection.execute(sa.update(CADDIE).where(once).values(**taken)).rowcount != 1:
            return None
    caddie = Caddie(row.caddie_id, row.player_id, row.round_id, named, device_id, row.created_at, row.expires_at)
    return caddie, secret


def caddie_of(engine: sa.Engine, key: str, caddie_id: str, secret: str) -> Caddie | None:
    """The caddie whom a secret is of, whether the time is over or not; None for a secret that is nobody's.
    ErasedError where the player was erased."""
    mine = sa.and_(CADDIE.c.caddie_id == caddie_id, CADDIE.c.secret_hash == keyed_hash(key, secret))
    with reading(engine) as connection:
        row = connection.execute(sa.select(CADDIE).where(mine)).first()
        if row is None:
            return None
        _refuse_erased(connection, row.player_id)
    name, device_id = str(row.name), str(row.device_id)
    return Caddie(row.caddie_id, row.player_id, row.round_id, name, device_id, row.created_at, row.expires_at)


def refuse_ended(connection: sa.Connection, caddie: Caddie) -> None:
    """CaddieEndedError for a caddie whose time is over, as this transaction sees it."""
    row = connection.execute(sa.select(CADDIE).where(CADDIE.c.caddie_id == caddie.caddie_id)).one()
    _refuse_erased(connection, caddie.player_id)
    why = _ended(connection, row)
    if why is not None:
        player = player_by_id(connection, caddie.player_id)
        raise CaddieEndedError(why, "the player" if player is None else player.name)


def write_down_use(engine: sa.Engine, caddie: Caddie) -> None:
    """Keep when the caddie was last here, to the hour."""
    moment = datetime.now(UTC)
    before = CADDIE.c.last_used_at < iso(moment - NOTED_EVERY)
    stale = sa.and_(CADDIE.c.caddie_id == caddie.caddie_id, before)
    with reading(engine) as connection:
        old = connection.execute(sa.select(CADDIE.c.caddie_id).where(stale)).first()
    if old is not None:
        with writing(engine) as connection:
            connection.execute(sa.update(CADDIE).where(stale).values(last_used_at=iso(moment)))


def end_caddie(engine: sa.Engine, player_id: str, caddie_id: str) -> bool:
    """End an invitation or a caddie at once. Returns whether there was one to end."""
    good = sa.and_(CADDIE.c.player_id == player_id, CADDIE.c.caddie_id == caddie_id, CADDIE.c.ended_at.is_(None))
    with writing(engine) as connection:
        done = connection.execute(sa.update(CADDIE).where(good).values(ended_at=now()))
    return done.rowcount == 1


def caddies(connection: sa.Connection, player_id: str) -> list[CaddieRow]:
    """The player's invitations and caddies, past ones too, the latest first; never a secret."""
    query = sa.select(CADDIE).where(CADDIE.c.player_id == player_id)
    query = query.order_by(CADDIE.c.created_at.desc(), CADDIE.c.caddie_id).limit(MOST_LISTED)
    found: list[CaddieRow] = []
    for row in connection.execute(query).all():
        ended = _ended(connection, row)
        found.append(
            {
                "caddie_id": row.caddie_id,
                "round_id": row.round_id,
                "name": row.name,
                "device_id": row.device_id,
                "state": ENDED if ended else ENTERING if row.taken_at else INVITED,
                "ended": ended,
                "created_at": row.created_at,
                "expires_at": row.expires_at,
                "taken_at": row.taken_at,
                "last_used_at": row.last_used_at,
            }
        )
    return found


def _ended(connection: sa.Connection, row: Any) -> str | None:
    """Why a caddie's time is over, or None while it is not."""
    if row.ended_at is not None:
        return TAKEN_BACK
    if row.expires_at <= now():
        return TOO_OLD
    round_ = _round(connection, row.player_id, row.round_id)
    if round_ is None or round_.deleted:
        return NO_ROUND
    return CLOSED if round_.closed or _closed_since(connection, row) else None


def _round(connection: sa.Connection, player_id: str, round_id: str) -> Any:
    query = sa.select(ROUND.c.closed, ROUND.c.deleted)
    return connection.execute(query.where(ROUND.c.record_id == round_id, ROUND.c.player_id == player_id)).first()


def _closed_since(connection: sa.Connection, row: Any) -> bool:
    """Whether a closing of the round came in after the invitation was made, also one that was taken back since."""
    later = sa.and_(CHANGE.c.player_id == row.player_id, CHANGE.c.received_at > row.created_at, CHANGE.c.op == PUT)
    query = sa.select(CHANGE.c.body).where(CHANGE.c.record_id == row.round_id, later)
    return any(json.loads(body).get("closed") is True for body in connection.execute(query).scalars())


def _refuse_erased(connection: sa.Connection, player_id: str) -> None:
    erased = sa.select(PLAYER.c.erased_at).where(PLAYER.c.player_id == player_id)
    if connection.execute(erased).scalar() is not None:
        raise ErasedError(player_id)
