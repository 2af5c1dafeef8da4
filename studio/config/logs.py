"""What may stand in a log line: no secret from an address, and one event on one line."""

import logging
import re

# Addresses that are themselves a key: the one-time sign-in link and the query string of any address.
_KEYS = re.compile(r"(/come-in/)[^\s?\"']+|(\?)[^\s\"']+")


class HideSecrets(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = _KEYS.sub(lambda found: (found[1] or found[2]) + "...", record.getMessage())
        record.args = None
        return True


class OneLine(logging.Formatter):
    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802
        # A line break or an escape in something a visitor typed must not look like a second entry.
        record.message = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in record.message)
        return super().formatMessage(record)
