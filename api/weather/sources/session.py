"""What the statuses and headers of a service's reply mean for us."""

import datetime as dt
import email.utils
import importlib.metadata
import io
import json
import logging
import re
import sqlite3
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Protocol
from urllib.parse import urljoin, urlsplit

import requests
import urllib3
from requests.adapters import HTTPAdapter
from requests_cache import CachedSession
from requests_cache.backends.sqlite import SQLiteCache
from requests_cache.models.response import CachedResponse

from api.weather.errors import BadAnswer, Forbidden, RateLimited, Refused, SourceFailed, Unreachable
from api.weather.series.hours import CLOCK_TOLERANCE, HourlyWeather

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


log = logging.getLogger(__name__)

Check = Callable[[object, str], object]
"""Raises BadAnswer where the decoded JSON of an answer cannot be used for the question at an address."""

CONDITIONS = {"if-none-match", "if-modified-since"}
KEPT_FOR = dt.timedelta(hours=72)
"""How old an answer of the cache may be when the service fails."""
FORGETS_AFTER_S = 86400.0
"""How often the cache's file is rid of answers that can serve nobody any more: some questions name a date,
and nobody asks them again."""
FRESH_AT_MOST_S = 6 * 3600.0
"""How long an answer may serve without a new question, whatever the service says of it: then it is stale."""
FRESH_WHERE_NONE_IS_TOLD_S = 1800.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What one question may take."""

    body_bytes: int = 8 * 1024 * 1024
    """Of the body, unpacked; a forecast of 16 days has about 60 kB."""
    total_s: float = 20.0
    """From the first attempt to the last byte."""
    connect_s: float = 3.05
    read_s: float = 10.0
    """Of silence between two packets."""
    retries: int = 2
    """After a failed connection or a 5xx."""
    backoff_s: float = 0.5
    """Before the first retry; doubled before each further one. The client does not sleep for
    a Retry-After: no request is sent until it has passed."""


@dataclass(frozen=True, slots=True)
class SourceAnswer:
    """The decoded JSON of an answer, and how long ago the service gave it."""

    body: object
    age: dt.timedelta


class HoursReader(Protocol):
    """Converts the decoded JSON of an answer to hours."""

    def __call__(self, body: object, /, *, retrieved_at: dt.datetime) -> HourlyWeather:
        """Raises BadAnswer."""
        ...


def user_agent(contact: str | None) -> str:
    """How the service's operators can tell who asks, and whom to write to."""
    try:
        version = importlib.metadata.version("rootledger")
    except importlib.metadata.PackageNotFoundError:
        version = "0"
    return f"rootledger/{version}" + (f" ({contact})" if contact else "")


class WeatherSession(CachedSession):
    """Asks weather services; `cache` is the file of its HTTP cache, None to keep it in memory."""

    def __init__(self, *, cache: Path | None, user_agent: str, limits: Limits | None = None) -> None:
        super().__init__(
            backend="memory" if cache is None else _cache_file(cache),
            serializer="json",  # a pickle would let whoever can write the file run code
            cache_control=True,
            expire_after=FRESH_WHERE_NONE_IS_TOLD_S,
            allowable_codes=SUCCESS,
            allowable_methods=("GET",),
            stale_if_error=False,  # it would hide a ban; see `answer_before`
        )
        self.headers["User-Agent"] = user_agent
        # Pinned: with further packages installed, requests would ask for further encodings.
        self.headers["Accept-Encoding"] = "gzip, deflate"
        self.adapters.clear()  # no service is asked that was not accepted
        self.max_redirects = 3
        self._limits = limits or Limits()
        self._forgets_at_s = time.monotonic()

    def accept(
        self,
        base_url: str,
        source: str,
        check: Check,
        *,
        fresh_s: float | None = None,
        retries: int | None = None,
        total_s: float | None = None,
    ) -> None:
        """Let a source ask below `base_url`; `check` sees every answer before the cache does.

        `fresh_s` is for how long an answer serves where the service does not say, and at most;
        `retries` how often a question is asked again that met a fault of the service; `total_s` is how
        long it may take at most.
        """
        limits = self._limits if retries is None else replace(self._limits, retries=retries)
        if total_s is not None and total_s < limits.total_s:
            limits = replace(limits, total_s=total_s, read_s=min(limits.read_s, total_s))
        # Below a path, or a whole host; never a host whose name merely begins alike.
        prefix = base_url if urlsplit(base_url).path.strip("/") else base_url.rstrip("/") + "/"
        # Several sources may be at one host, such as a test service: each has its own path, and what is
        # redirected elsewhere there is checked by the first.
        if prefix not in self.adapters:
            self.mount(prefix, _CheckingAdapter(source, check, limits, fresh_s))

    def get_redirect_target(self, resp: requests.Response) -> str | None:
        """Where a redirection leads, if that is the same host: no question follows to another."""
        target = super().get_redirect_target(resp)
        if target is None:
            return None
        try:
            here, there = urlsplit(resp.url), urlsplit(urljoin(resp.url, target))
        except ValueError:  # it leads nowhere
            return None
        return target if (here.scheme, here.netloc) == (there.scheme, there.netloc) else None

    def hours(
        self,
        source: str,
        url: str,
        parameters: Mapping[str, str],
        read: HoursReader,
        clock: Callable[[], dt.datetime],
        *,
        accept: str | None = None,
    ) -> HourlyWeather:
        """The hours of a service's answer.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        try:
            answer = self.ask(source, url, parameters, accept=accept)
            return read(answer.body, retrieved_at=clock() - answer.age)
        except SourceFailed as failed:
            before = self.answer_before(url, parameters)
            if before is not None:
                with suppress(BadAnswer):
                    failed.older = read(before.body, retrieved_at=clock() - before.age)
            raise failed from None

    def ask(
        self,
        source: str,
        url: str,
        parameters: Mapping[str, str],
        *,
        accept: str | None = None,
        anew: bool = False,
    ) -> SourceAnswer:
        """The answer of a service, at most as old as the cache is told to keep one.

        `accept` names the media type that is wanted, `anew` passes the cache by. Raises
        SourceFailed. No sentence of it holds the address, which may contain a key.
        """
        headers = None if accept is None else {"Accept": accept}
        try:
            response = self.get(url, params=dict(parameters), headers=headers, force_refresh=anew)
        except requests.Timeout:
            raise Unreachable(source, "did not answer in time.") from None
        except requests.RequestException as error:
            raise Unreachable(source, f"could not be reached ({type(error).__name__}).") from None
        except sqlite3.Error as error:
            raise Unreachable(source, f"the cache of its answers cannot be used: {error}.") from None
        except ValueError as error:  # of a header that no part of HTTP has a meaning for
            raise BadAnswer(source, f"answered in a way that cannot be read ({error}).") from None
        self._forget()
        if isinstance(response, CachedResponse) and is_ahead(response) and not anew:
            return self.ask(source, url, parameters, accept=accept, anew=True)
        if response.status_code not in SUCCESS:
            raise failure_of(source, response)
        if response.status_code == 203:
            log.warning("%s: answers with 203: this version of the service will end", source)
        if isinstance(response, CachedResponse) and not response.revalidated:
            return SourceAnswer(_decoded(source, response.content), _age(response))
        return SourceAnswer(_decoded(source, response.content), dt.timedelta())

    def _forget(self) -> None:
        """Once a day, delete what expired before any fallback may still be of use."""
        if time.monotonic() < self._forgets_at_s or not isinstance(self.cache, SQLiteCache):
            return
        self._forgets_at_s = time.monotonic() + FORGETS_AFTER_S
        responses = self.cache.responses
        before = round(time.time() - KEPT_FOR.total_seconds())
        try:
            with responses.connection(commit=True) as connection:
                connection.execute(f"DELETE FROM {responses.table_name} WHERE expires < ?", (before,))
        except sqlite3.Error as error:
            log.warning("Old answers of weather services stay in the cache: %s", error)

    def answer_before(self, url: str, parameters: Mapping[str, str]) -> SourceAnswer | None:
        """The last good answer to a question, from the cache; None where it is over 72 hours old."""
        question = self.prepare_request(requests.Request("GET", url, params=dict(parameters)))
        try:
            kept = self.cache.get_response(self.cache.create_key(question))
            if not isinstance(kept, CachedResponse) or is_ahead(kept) or _age(kept) > KEPT_FOR:
                return None
            return SourceAnswer(json.loads(kept.content), _age(kept))
        except (sqlite3.Error, ValueError):
            return None


class _CheckingAdapter(HTTPAdapter):
    """Reads a body within the limits, retries, and raises for a success that cannot be used."""

    def __init__(self, source: str, check: Check, limits: Limits, fresh_s: float | None) -> None:
        super().__init__(max_retries=0)  # urllib3 would read an endless body before it retries
        self._source = source
        self._check = check
        self._limits = limits
        self._fresh_s = fresh_s

    def send(self, request: requests.PreparedRequest, *args: Any, **kwargs: Any) -> requests.Response:
        limits = self._limits
        deadline = time.monotonic() + limits.total_s
        kwargs.update(timeout=(limits.connect_s, limits.read_s), stream=True)
        pause_s = limits.backoff_s
        for attempts_left in range(limits.retries, -1, -1):
            last = attempts_left == 0 or time.monotonic() + pause_s >= deadline
            try:
                response = super().send(request, *args, **kwargs)
                self._read(response, deadline)
            except (requests.ConnectionError, requests.Timeout):
                if last:
                    raise
            else:
                if last or response.status_code not in TRANSIENT:
                    break
            time.sleep(pause_s)
            pause_s *= 2
        if response.status_code == 304 and not CONDITIONS & {name.lower() for name in request.headers}:
            raise BadAnswer(self._source, "answered that nothing has changed, which was not asked.")
        if response.status_code in SUCCESS:
            body = _decoded(self._source, response.content)
            if isinstance(body, dict) and body.get("error") is True:
                raise BadAnswer(self._source, f"reports an error: {sentence(body.get('reason'))}")
            self._check(body, str(request.url))
        self._say_how_long_it_serves(response)
        return response

    def _say_how_long_it_serves(self, response: requests.Response) -> None:
        """Put what the service says of an answer's freshness into the one form that the cache reads rightly.

        The cache would ask at every turn where an answer must not be served stale, keep for ever
        what is called immutable, and fail on a date that is none.
        """
        headers = response.headers
        told = {part.strip().lower() for part in headers.get("Cache-Control", "").split(",")}
        serves_s = freshness_s(told, headers)
        for name in ("Expires", "Pragma", "Cache-Control"):
            headers.pop(name, None)
        if serves_s is None:
            serves_s = self._fresh_s or FRESH_WHERE_NONE_IS_TOLD_S
        serves_s = min(serves_s, self._fresh_s or FRESH_AT_MOST_S)
        unwanted = sorted(told & {"no-store", "no-cache"})
        headers["Cache-Control"] = ", ".join([*unwanted, f"max-age={max(0, round(serves_s))}"])

    def _read(self, response: requests.Response, deadline: float) -> None:
        """Take the body in as it comes; put one that was read, whole and unpacked, in its place."""
        raw, body = response.raw, io.BytesIO()
        try:
            # read1 gives what is there, so that a trickle cannot outlast the deadline.
            while chunk := raw.read1(65536, decode_content=True):
                body.write(chunk)
                if body.tell() > self._limits.body_bytes:
                    size = f"{self._limits.body_bytes / 1048576:g} MiB"
                    raise BadAnswer(self._source, f"the answer is longer than {size}.")
                if time.monotonic() > deadline:
                    raise requests.Timeout("The answer did not end in time.", request=response.request)
        except urllib3.exceptions.ReadTimeoutError as error:
            raise requests.Timeout(error, request=response.request) from None
        except urllib3.exceptions.HTTPError as error:
            raise requests.ConnectionError(error, request=response.request) from None
        finally:
            raw.close()
        body.seek(0)
        response.raw = urllib3.HTTPResponse(
            body, status=response.status_code, reason=response.reason, preload_content=False
        )


def _cache_file(path: Path) -> SQLiteCache:
    """The cache's file, made anew where it is damaged: nothing in it is not also in the store."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with suppress(OSError):  # the questions tell where a garden is
        path.touch(mode=0o600)
        if path.is_file():
            path.chmod(0o600)
    try:
        return SQLiteCache(path, timeout=30)
    except sqlite3.OperationalError:
        raise  # locked, or not to be written: not the file's fault
    except sqlite3.DatabaseError as error:
        log.warning("%s is made anew: %s", path, error)
        path.unlink()
        return SQLiteCache(path, timeout=30)


def _decoded(source: str, content: bytes) -> object:
    def refuse(constant: str) -> float:
        raise ValueError(f"{constant} is not JSON")

    try:
        body: object = json.loads(content, parse_constant=refuse)
    except (ValueError, RecursionError):
        raise BadAnswer(source, "the answer is not JSON, or was cut off.") from None
    return body


def is_ahead(response: CachedResponse) -> bool:
    """Whether an answer was kept by a clock that was ahead: it is of another day, and does not count."""
    return response.created_at > dt.datetime.now(dt.UTC) + CLOCK_TOLERANCE


def _age(response: CachedResponse) -> dt.timedelta:
    return max(dt.timedelta(), dt.datetime.now(dt.UTC) - response.created_at)
