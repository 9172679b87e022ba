"""What each endpoint asks of the one who uses it. An endpoint that no set names asks for the usual: reading when it is
read, writing when it is sent something."""

from __future__ import annotations

from typing import Final

PAGES: Final = frozenset({"front_page", "front_file", "description", "operation.Health", "operation.Ready"})
"""The app's own files, and whether the server is well: nobody is looked up for them."""

PUBLIC: Final = PAGES | {
    "baselines.Baselines",
    "baselines.OneBaseline",
    "api-docs.openapi_json",
    "operation.Metrics",
    "signing_in.SignIn",
    "signing_in.Join",
    "signing_in.Me",
    "caddying.TakingUp",
    "caddying.Caddying",
    "caddying.RoundChanges",
}
"""Endpoints that need no account: the app's files, the published tables, the doors themselves; metrics and a caddie's
round look by themselves who asks."""

_OWN_ACCOUNT: Final = ("accounts.", "signing_in.SignOut", "invitations.Accepting")


def in_person_only(endpoint: str) -> bool:
    """Whether an endpoint takes a sign-in alone: a token may neither make nor end what signs in."""
    return endpoint.startswith(_OWN_ACCOUNT)


SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})

READING: Final = "reading"
WRITING: Final = "writing"
READING_OWN: Final = "reading own"
THE_PLAYER: Final = "the player"
NOTING: Final = "noting"

NOT_IN_PERSON: Final = "Sign in with a password or a code for this; a token is not enough."

REFUSALS: Final = {
    READING: "This token does not allow reading.",
    WRITING: "Only the player may do this, by a sign-in or a token that allows writing.",
    READING_OWN: "Only the player may see this, by a sign-in or a token that allows reading.",
    THE_PLAYER: "Only the player may do this, signed in with a password or a code; a token is not enough.",
    NOTING: "Sign in with a password or a code to leave notes; a token for reading is not enough.",
}

_QUESTIONS: Final = frozenset({"plans.TeePlan"})
"""Asked by POST, but nothing is changed."""

_OF_THE_PLAYER: Final = frozenset(
    {
        "sharing.Shares",
        "sharing.OneShare",
        "invitations.Invitations",
        "invitations.OneInvitation",
        "caddies.Caddies",
        "caddies.RoundCaddies",
        "caddies.OneCaddie",
        "own_data.Everything",
        "own_data.Erasure",
    }
)
"""Who reads a player, who enters a round, all that is kept, and its end: readers have no business here."""

_NOTES: Final = frozenset({"sharing.Notes", "sharing.OneNote"})


def need(endpoint: str | None, method: str) -> str:
    """What a request about a player asks for."""
    if endpoint in _OF_THE_PLAYER:
        return READING_OWN if method in SAFE else THE_PLAYER
    if method in SAFE or endpoint in _QUESTIONS:
        return READING
    return NOTING if endpoint in _NOTES else WRITING
