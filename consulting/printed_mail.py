"""Mail printed to the terminal for the demo, without the bytes of what goes with it."""

from __future__ import annotations

from typing import Any

from django.core.mail.backends import console


class EmailBackend(console.EmailBackend):
    def write_message(self, message: Any) -> None:
        made = message.message()
        for part in made.walk():
            if part.get_filename():
                size = len(part.get_payload(decode=True) or b"")
                del part["Content-Transfer-Encoding"]
                part.set_payload(f"({size} bytes)\n")
        self.stream.write(f"{made.as_string()}\n{'-' * 79}\n")
