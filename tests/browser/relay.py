"""Stands between a browser and the service: counts what goes over the wire, and serves some addresses otherwise."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

from tests.browser.conftest import Service

HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "date", "server"}


@dataclass
class Relay:
    url: str = ""
    bytes: int = 0
    requests: list[str] = field(default_factory=list)
    instead: dict[str, str] = field(default_factory=dict)
    # Seconds for which an address isn't answered, unless the relay ends before.
    slow: dict[str, float] = field(default_factory=dict)
    ended: threading.Event = field(default_factory=threading.Event)


@contextmanager
def relay_running(service: Service) -> Iterator[Relay]:
    relay, target = Relay(), urlsplit(service.url).netloc

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            path = self.path.split("?")[0]
            relay.requests.append(f"{self.command} {path}")
            relay.ended.wait(relay.slow.get(path, 0))
            if path in relay.instead:
                self.answer(200, [("Content-Type", "text/javascript")], relay.instead[path].encode())
                return
            length = int(self.headers.get("Content-Length") or 0)
            sent = {name: value for name, value in self.headers.items() if name.lower() not in {"host"}}
            onward = http.client.HTTPConnection(target, timeout=30)
            onward.request(self.command, self.path, self.rfile.read(length), sent | {"Host": target})
            got = onward.getresponse()
            headers = [(name, value) for name, value in got.getheaders() if name.lower() not in HOP]
            self.answer(got.status, headers, got.read())
            onward.close()

        do_POST = do_GET

        def answer(self, status: int, headers: list[tuple[str, str]], content: bytes) -> None:
            self.send_response(status)
            for name, value in headers:
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            # Status line, headers and the two lines the base class adds.
            relay.bytes += len(content) + sum(len(name) + len(value) + 4 for name, value in headers) + 150
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *_args: object) -> None:
            """Quiet: the test reads `requests`."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    relay.url = f"http://127.0.0.1:{server.server_address[1]}"
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield relay
    relay.ended.set()
    server.shutdown()
