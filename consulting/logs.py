"""What is written to the log: no key that opens something."""

from __future__ import annotations

import logging
import re

KEY = re.compile(r"(/(?:client|calendar|invitation)/)[^/\s]+")


class KeysLeftOut(logging.Filter):
    """Addresses stand in the log without the key that they hold."""

    def filter(self, record: logging.LogRecord) -> bool:
        said = record.getMessage()
        hidden = KEY.sub(r"\1…", said)
        if hidden != said:
            record.msg, record.args = hidden, ()
        return True
