"""A proxy before servers: nginx with the configuration of server/README.md, private, on 127.0.0.1, gone at the end.

Taken from the guide as it stands but for its port, the files of the certificate and the ports of the servers, all made
for the run.
"""

from __future__ import annotations

import http.client
import re
import shutil
import ssl
import subprocess
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final, Self

from tests.made_once import ROOT
from tests.store.stores import free_port

GUIDE: Final = ROOT / "server" / "README.md"
HOST: Final = "pencilbag.example"
PATIENCE_S: Final = 20.0
_AROUND: Final = """
daemon off;
worker_processes 1;
{user}
pid {folder}/pid;
error_log {folder}/errors;
events {{ worker_connections 4096; }}
http {{
    log_format asked "$remote_addr $upstream_addr $status";
    access_log {folder}/asked asked;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
{servers}
}}
"""


def program() -> str:
    """The proxy's program. Raises RuntimeError when there is none: tests/run installs it."""
    found = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/sbin")
    if found is None:
        raise RuntimeError("no nginx; tests/run installs Debian's package nginx-light")
    return found


def documented(guide: str, port: int, servers: Sequence[int], certificate: Path) -> str:
    """The guide's configuration for several servers, on a port of this machine."""
    (proxy,) = re.findall(r"^```nginx\n(.*?)^```", guide, re.MULTILINE | re.DOTALL)
    ((upstream, passed),) = re.findall(
        r"^```\n(upstream .*?)^# in the server above: (proxy_pass [^\n]*)\n```", guide, re.MULTILINE | re.DOTALL
    )
    numbers = iter(servers)
    made = re.sub(r"127\.0\.0\.1:80\d\d", lambda _: f"127.0.0.1:{next(numbers)}", upstream)
    for old, new in (
        (r"listen 443 ssl;", f"listen 127.0.0.1:{port} ssl;"),
        (r"/etc/ssl/pencilbag\.pem", str(certificate)),
        (r"/etc/ssl/pencilbag\.key", str(certificate.with_suffix(".key"))),
        (r"proxy_pass http://127\.0\.0\.1:8000;", passed),
    ):
        proxy, count = re.subn(old, new, proxy)
        assert count == 1, old
    assert next(numbers, None) is None, "the guide names as many servers as there are"
    return made + proxy


class Proxy:
    """A running proxy before servers at these ports; as a context it ends with it."""

    def __init__(self, servers: Sequence[int]) -> None:
        self._folder = tempfile.TemporaryDirectory()
        self.folder = Path(self._folder.name)
        self.port = free_port()
        certificate = self.folder / "pencilbag.pem"
        _make_certificate(certificate)
        self.trust = ssl.create_default_context(cafile=str(certificate))
        user = "user root;" if self.folder.owner() == "root" else ""
        servers_said = documented(GUIDE.read_text(encoding="utf-8"), self.port, servers, certificate)
        configuration = self.folder / "nginx.conf"
        said = _AROUND.format(folder=self.folder, servers=servers_said, user=user)
        configuration.write_text(said, encoding="utf-8")
        errors = str(self.folder / "errors")
        command = [program(), "-p", str(self.folder), "-e", errors, "-c", str(configuration)]
        self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, cwd=self.folder)
        self._await()

    def _await(self) -> None:
        until = time.monotonic() + PATIENCE_S
        while True:
            try:
                connection = self.connection("127.0.0.1")
                connection.connect()
                connection.close()
                return
            except OSError:
                if self.process.poll() is not None or time.monotonic() > until:
                    said = (self.folder / "errors").read_text(encoding="utf-8")
                    self.stop()
                    raise RuntimeError(f"nginx does not answer: {said}") from None
                time.sleep(0.02)

    def connection(self, address: str) -> http.client.HTTPSConnection:
        """A connection from an address of this machine (127.0.0.0/8); the certificate is that of `HOST`."""
        place = ("127.0.0.1", self.port)
        return http.client.HTTPSConnection(*place, timeout=60, source_address=(address, 0), context=self.trust)

    def asked(self) -> list[tuple[str, str, str]]:
        """Of every request so far: the client's address, the server's, the status."""
        lines = (self.folder / "asked").read_text(encoding="ascii").splitlines()
        return [(client, server, status) for client, server, status in (line.split() for line in lines)]

    def stop(self) -> None:
        """End it, and what is its own."""
        self.process.terminate()
        self.process.wait(PATIENCE_S)
        self._folder.cleanup()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()


def _make_certificate(place: Path) -> None:
    """A certificate that is good for a day and known to nobody else, with its key beside it."""
    made = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    made += ["-days", "1", "-subj", f"/CN={HOST}", "-addext", f"subjectAltName=DNS:{HOST},IP:127.0.0.1"]
    made += ["-out", str(place), "-keyout", str(place.with_suffix(".key"))]
    subprocess.run(made, check=True, capture_output=True)
