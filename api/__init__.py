"""JSON in, JSON out: the HTTP frame around `scheduling`."""

from typing import Final

RELEASE: Final = "0.1.0"
"""As in pyproject.toml; answers of another release do not count."""
