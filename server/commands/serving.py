"""The command serve: the web application under waitress."""

from __future__ import annotations

import ipaddress
import signal
from contextlib import closing, suppress
from types import FrameType

import click
from flask import Flask
from waitress.server import MultiSocketServer

from server import create_app
from server.commands import InputError, opening
from server.commands.options import WholeNumber
from server.operation.listening import Listening, listen
from server.operation.logs import configure
from server.operation.settings import text
from server.store.accounts import any_account
from server.store.backup import BackupError, serving
from server.store.credentials import SHORTEST_SECRET
from server.store.erasure import finish_erasures


@click.command()
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Any address but this machine's needs a secret and accounts."
)
@click.option("--port", type=WholeNumber(0, 65535), default=8000, show_default=True, help="0 takes a free one.")
def serve(host: str, port: int) -> None:
    """Serve the phone page and the API until Ctrl-C."""
    _check_secret(host)
    _start_logs()
    with opening():
        app = create_app({"WORKERS": text("WORKERS")})
    try:
        _check_accounts(app, host)
        _serve(app, host, port)
    finally:
        if (workers := app.extensions.get("pencilbag_workers")) is not None:
            workers.close()
    click.echo("stopped", err=True)


def _serve(app: Flask, host: str, port: int) -> None:
    engine = app.extensions["pencilbag_engine"]
    try:
        largest = app.config["MAX_CONTENT_LENGTH"]
        server = listen(app, host, port, largest, proxied=int(app.config["PROXIES"]) > 0)
    except OSError as error:
        raise InputError(f"--port: {host}:{port} cannot be used: {error.strerror or error}") from error
    try:
        with closing(server), serving(engine):
            finish_erasures(engine)
            _run(server, host)
    except BackupError as error:
        raise InputError(str(error)) from error


def _start_logs() -> None:
    try:
        configure(text("LOG"), text("LOG_LEVEL"))
    except ValueError as error:
        raise InputError(str(error)) from error


def _check_secret(host: str) -> None:
    """Beyond this machine a secret is needed; a short one is a mistake anywhere."""
    found = len(text("SECRET"))
    if found >= SHORTEST_SECRET or (not found and _is_loopback(host)):
        return
    words = f"PENCILBAG_SECRET has {found} characters, {SHORTEST_SECRET} are needed"
    raise InputError(words if _is_loopback(host) else f"--host: {host} is not this machine: {words}")


def _check_accounts(app: Flask, host: str) -> None:
    """Beyond this machine accounts are needed, and a name to be asked by; TLS is a proxy's job."""
    if _is_loopback(host):
        return
    if not any_account(app.extensions["pencilbag_engine"]):
        raise InputError(f"--host: {host} is not this machine, and there are no accounts; make one with account add")
    if not app.config["HOSTS"]:
        click.echo("PENCILBAG_HOSTS names no host: only 127.0.0.1 and localhost are answered", err=True)


def _run(server: Listening, host: str) -> None:
    click.echo(f"phone page   http://{host}:{_port(server)}/")
    click.echo(f"API          http://{host}:{_port(server)}/api/openapi.json")
    click.echo("Ctrl-C stops the server.")
    # Both are set: a process started in the background of a script inherits an ignored SIGINT.
    for sign in (signal.SIGTERM, signal.SIGINT):
        signal.signal(sign, _stop)
    with suppress(KeyboardInterrupt):
        server.run()


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _port(server: Listening) -> int:
    listening = server.effective_listen if isinstance(server, MultiSocketServer) else [("", server.effective_port)]
    return int(listening[0][1])


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
