"""Names in an address."""

import re
from typing import Final

ID_PATTERN: Final = "[a-z0-9](?:[a-z0-9-]{0,62}[a-z0-9])?"
"""Of a garden or a zone."""
REPORT_ID_PATTERN: Final = "[a-z0-9](?:[a-z0-9-]{0,98}[a-z0-9])?"
"""Of a report: a run's id holds a date and the id of its zone."""

_CHARACTERS: Final = "lower-case letters, digits and hyphens, beginning and ending with a letter or digit"
ID_ALLOWED: Final = f"at most 64 {_CHARACTERS}"
REPORT_ID_ALLOWED: Final = f"at most 100 {_CHARACTERS}"

_ID: Final = re.compile(ID_PATTERN)
_REPORT_ID: Final = re.compile(REPORT_ID_PATTERN)


def is_id(value: object) -> bool:
    """Whether a value may name a garden or a zone."""
    return isinstance(value, str) and _ID.fullmatch(value) is not None


def is_report_id(value: object) -> bool:
    """Whether a value may name a report."""
    return isinstance(value, str) and _REPORT_ID.fullmatch(value) is not None
