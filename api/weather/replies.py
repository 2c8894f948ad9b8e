"""What the statuses and headers of a service's reply mean for us."""

import datetime as dt
import email.utils
import re
from collections.abc import Mapping
from typing import Final

import requests

from api.weather.errors import Forbidden, RateLimited, Refused, SourceFailed, Unreachable

SUCCESS: Final = (200, 203)
"""203 is how a service announces that this version will end; its data are good."""
TRANSIENT: Final = (500, 502, 503, 504)
CLIENT_CLOSED: Final = 499
"""A gateway's word for a question that it gave up on; nothing is wrong with the question."""
HOST: Final = re.compile(r"[\w.:\[\]-]+", re.ASCII)
PAUSE_WHERE_NONE_IS_TOLD_S: Final = 300.0


def failure_of(source: str, response: requests.Response) -> SourceFailed:
    """What a status other than success means for us."""
    status = response.status_code
    told_s = _retry_after_s(response.headers.get("Retry-After"))
    said = _said(response)
    detail = f"answered with {status}{': ' + said if said else ''}."
    if status == 429:
        return RateLimited(source, detail, retry_after_s=told_s or PAUSE_WHERE_NONE_IS_TOLD_S)
    if status in (401, 403):
        return Forbidden(source, detail)
    if status >= 500 or status == CLIENT_CLOSED:
        return Unreachable(source, detail, pause_s=told_s or PAUSE_WHERE_NONE_IS_TOLD_S, status=status)
    if 300 <= status < 400:
        where = re.sub(r"^\w+://([^/?#]*).*$", r"\1", response.headers.get("Location", ""))
        host = where if HOST.fullmatch(where) else "another address"
        return Refused(source, f"redirects to {host!r}, which is not followed.", status=status)
    return Refused(source, detail, status=status)


def _said(response: requests.Response) -> str:
    """The reason that a service gives: its own form, problem+json, or a list of what is invalid."""
    try:
        body = response.json()
    except (ValueError, RecursionError):
        return ""
    told = body if isinstance(body, dict) else {}
    said = told.get("reason") or told.get("detail") or told.get("title")
    if isinstance(said, list):
        said = "; ".join(str(entry.get("msg")) for entry in said if isinstance(entry, dict))
    return sentence(said) if isinstance(said, str) else ""


def sentence(text: object) -> str:
    """What a service said, fit for a log line."""
    printable = "".join(character for character in str(text or "") if character.isprintable())
    return printable.strip().rstrip(".")[:200]


def _retry_after_s(header: str | None) -> float | None:
    """Seconds of a Retry-After, which may be a number or a date (RFC 9110, 10.2.3)."""
    if header is None:
        return None
    if header.strip().isdecimal():
        return float(header)
    until = _http_date(header)
    return None if until is None else max(0.0, (until - dt.datetime.now(dt.UTC)).total_seconds())


def _http_date(header: str | None) -> dt.datetime | None:
    """A date of HTTP; None for what is none."""
    try:
        date = email.utils.parsedate_to_datetime(header or "")
        return (date if date.tzinfo is not None else date.replace(tzinfo=dt.UTC)).astimezone(dt.UTC)
    except (TypeError, ValueError, OverflowError):
        return None


def freshness_s(told: set[str], headers: Mapping[str, str]) -> float | None:
    """For how long an answer is fresh by its headers (RFC 9111, 4.2.1); None where they do not say."""
    for directive in told:
        name, _, value = directive.partition("=")
        value = value.strip().strip('"')
        if name.strip() == "max-age" and value.isdecimal():
            age = headers.get("Age", "")
            return min(float(value), 1e9) - (float(age) if age.isdecimal() else 0.0)
    if "Expires" not in headers:
        return None
    expires = _http_date(headers["Expires"])
    if expires is None:
        return 0.0  # "an invalid date as in the past" (5.3)
    return (expires - (_http_date(headers.get("Date")) or dt.datetime.now(dt.UTC))).total_seconds()
