"""Asks a live server by a generated client, and says what the client made of each answer.

Run by the client's own Python, which has none of the server's packages: `read_by_client.py FOLDER`, where the package
`generated` lies in the folder and stdin holds {"address": ..., "asks": [{"operation", "given", "body", "cookies"}]}.
Prints for each question the status, the name of the type that was read, and whether it says all of the answer again.
"""

import datetime
import importlib
import inspect
import json
import pkgutil
import sys
import typing
from enum import Enum
from uuid import UUID


def functions(package):
    """The function that asks, of every operation by its name."""
    found = {}
    for tag in pkgutil.iter_modules(package.__path__):
        inside = importlib.import_module(f"{package.__name__}.{tag.name}")
        for one in pkgutil.iter_modules(inside.__path__):
            found[one.name] = importlib.import_module(f"{inside.__name__}.{one.name}").sync_detailed
    return found


def as_hinted(hint, value):
    """A value of JSON as the type that a parameter asks for."""
    kinds = [kind for kind in (typing.get_args(hint) or (hint,)) if inspect.isclass(kind)]
    for kind in kinds:
        if hasattr(kind, "from_dict"):
            return kind.from_dict(value)
        if issubclass(kind, UUID | Enum):
            return kind(value)
        if issubclass(kind, datetime.date):
            return datetime.date.fromisoformat(value)
    return value


def main():
    sys.path.insert(0, sys.argv[1])
    client_of = importlib.import_module("generated.client").Client
    asking = functions(importlib.import_module("generated.api"))
    told = json.load(sys.stdin)
    answers = []
    for ask in told["asks"]:
        function = asking[ask["operation"]]
        hints = typing.get_type_hints(function)
        given = {name if name in hints else f"{name}_": value for name, value in ask["given"].items()}
        if ask["body"] is not None:
            given["body"] = ask["body"]
        client = client_of(base_url=told["address"], cookies=ask["cookies"], timeout=60)
        read = {name: as_hinted(hints[name], value) for name, value in given.items()}
        answer = function(client=client, **read)
        said_again = answer.parsed is not None and answer.parsed.to_dict() == json.loads(answer.content)
        answers.append([int(answer.status_code), type(answer.parsed).__name__, said_again])
    json.dump(answers, sys.stdout)


main()
