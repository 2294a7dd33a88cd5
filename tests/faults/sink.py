"""A mail server that keeps what it takes, and tells at which point of a conversation it is."""

from __future__ import annotations

import socketserver
from collections import Counter
from collections.abc import Callable
from email import message_from_bytes
from threading import Thread

POINTS = ("greeted", "hello", "sender", "recipient", "data", "taken", "told", "bye")
"""Of a conversation: `taken` is when the letter is kept and the sender not told so yet."""
WORDS = {
    "EHLO": "hello",
    "HELO": "hello",
    "MAIL": "sender",
    "RCPT": "recipient",
    "DATA": "data",
    "QUIT": "bye",
}


class Conversation(socketserver.StreamRequestHandler):
    server: Sink

    def say(self, line: str) -> None:
        self.wfile.write(f"{line}\r\n".encode())

    def handle(self) -> None:
        try:
            self.say("220 sink.example")
            self.server.at("greeted")
            while line := self.rfile.readline():
                word = line.split()[0].decode().upper()
                self.server.at(WORDS.get(word, ""))
                if word == "DATA":
                    self.say("354 go on")
                    if not self.letter():
                        return
                elif word == "QUIT":
                    self.say("221 bye")
                    return
                else:
                    self.say("250 well")
        except OSError:
            return  # whoever sent is gone

    def letter(self) -> bool:
        lines = []
        while (line := self.rfile.readline()) != b".\r\n":
            if not line:
                return False
            lines.append(line)
        name = message_from_bytes(b"".join(lines))["Message-ID"]
        self.server.taken[name] += 1
        self.server.at("taken")
        self.say("250 taken")
        self.server.at("told")
        return True


class Sink(socketserver.ThreadingTCPServer):
    allow_reuse_address = daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Conversation)
        self.taken: Counter[str] = Counter()
        """How often each Message-ID came."""
        self.point, self.then = "", lambda: None
        Thread(target=self.serve_forever, daemon=True).start()

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.server_address[1]}"

    def strike_at(self, point: str, then: Callable[[], None]) -> None:
        """Do `then` the next time that a conversation comes to this point."""
        self.point, self.then = point, then

    def at(self, point: str) -> None:
        if point and point == self.point:
            self.point = ""
            self.then()
