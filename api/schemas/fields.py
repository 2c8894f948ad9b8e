"""Strict JSON fields: "5" is no number, 5.7 no integer, "yes" no boolean.

Every refusal is a sentence which names the field, the value and what is allowed.
"""

import datetime as dt
import difflib
import functools
import math
import re
import unicodedata
import zoneinfo
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, ClassVar, Final

from marshmallow import ValidationError, fields

from api.ids import ID_ALLOWED, ID_PATTERN, REPORT_ID_ALLOWED, REPORT_ID_PATTERN, is_id, is_report_id
from scheduling.errors import UnknownName

INSTANT_PATTERN: Final = (
    r"^\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d{1,6})?)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$"
)
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2100

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_YEARLY: Final = re.compile(r"(?:--)?\d{2}-\d{2}", re.ASCII)
_INSTANT = re.compile(INSTANT_PATTERN.removesuffix("$"), re.ASCII)


def shown(value: object) -> str:
    """A JSON value as a message repeats it: short, and never more than one line."""
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case str():
            clean = "".join("·" if _is_control(character) else character for character in value[:41])
            return f'"{clean[:40]}…"' if len(value) > 40 else f'"{clean}"'
        case int() | float():
            return number(value)
        case Mapping():
            return "an object"
        case _:
            return "a list"


def number(value: float) -> str:
    """A number as people write it: 100000, 0.02."""
    text = (
        str(int(value)) if math.isfinite(value) and value == int(value) and abs(value) < 1e15 else repr(value)
    )
    return text if len(text) <= 40 else f"{text[:40]}…"


def nearest(name: str, known: Collection[str]) -> str:
    """A hint at the known name most like `name`: " Did you mean area_m2?", or nothing."""
    near = difflib.get_close_matches(name[:64], known, n=1, cutoff=0.6)
    return f" Did you mean {near[0]}?" if near else ""


def one_of(words: Iterable[str]) -> str:
    """The allowed words as a sentence lists them: "high", "normal" or "low"."""
    quoted = [f'"{word}"' for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def _is_control(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")


def _about(about: str, **more: object) -> dict[str, object]:
    """Metadata for the contract: a description and what JSON Schema calls the limits."""
    return {
        **({"description": about} if about else {}),
        **{key: value for key, value in more.items() if value is not None},
    }


class _Named(fields.Field[Any]):
    """A field whose refusals begin with its name; `about` and limits are for the contract."""

    limits: ClassVar[Mapping[str, object]] = {}

    def __init__(
        self, *args: Any, about: str = "", limits: Mapping[str, object] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, metadata=_about(about, **(limits or self.limits)), **kwargs)

    @property
    def shown_name(self) -> str:
        """Its name in the document."""
        return self.data_key or self.name or ""

    def make_error(self, key: str, **kwargs: Any) -> ValidationError:
        """What to raise for a value that is missing or null, or else as marshmallow has it."""
        if key == "required":
            return ValidationError(f"{self.shown_name} is missing.")
        if key == "null":
            return ValidationError(f"{self.shown_name} is null; leave it out instead.")
        return super().make_error(key, **kwargs)

    def refused(self, value: object, allowed: str) -> ValidationError:
        """What to raise for a value that cannot be."""
        return ValidationError(f"{self.shown_name} is {shown(value)}; it must be {allowed}.")


class Number(_Named, fields.Float):
    """A JSON number within limits."""

    def __init__(
        self,
        lowest: float | None = None,
        highest: float | None = None,
        *,
        above: float | None = None,
        **kwargs: Any,
    ) -> None:
        limits = {"minimum": lowest, "maximum": highest, "exclusiveMinimum": above}
        super().__init__(limits=limits, **kwargs)
        self.lowest = lowest
        self.highest = highest
        self.above = above

    def _allowed(self, kind: str) -> str:
        if self.above is not None:
            upper = "" if self.highest is None else f" and at most {number(self.highest)}"
            return f"{kind} above {number(self.above)}{upper}"
        match self.lowest, self.highest:
            case None, None:
                return kind
            case None, highest if highest is not None:
                return f"{kind} of at most {number(highest)}"
            case lowest, None if lowest is not None:
                return f"{kind} of at least {number(lowest)}"
        return f"{kind} from {number(self.lowest or 0)} to {number(self.highest or 0)}"

    def _within(self, value: float) -> bool:
        return (
            (self.lowest is None or value >= self.lowest)
            and (self.highest is None or value <= self.highest)
            and (self.above is None or value > self.above)
        )

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refused(value, self._allowed("a number"))
        if not math.isfinite(value) or not self._within(value):
            raise self.refused(value, self._allowed("a number"))
        return float(value)


class Whole(_Named, fields.Integer):
    """A JSON number without a fraction, within limits."""

    def __init__(self, lowest: int, highest: int, **kwargs: Any) -> None:
        super().__init__(limits={"minimum": lowest, "maximum": highest}, **kwargs)
        self.lowest = lowest
        self.highest = highest

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> int:
        whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
        if isinstance(value, bool) or not whole or not self.lowest <= value <= self.highest:
            only = f"{self.lowest}" if self.lowest == self.highest else None
            raise self.refused(value, only or f"a whole number from {self.lowest} to {self.highest}")
        return int(value)


class Truth(_Named, fields.Boolean):
    """true or false."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise self.refused(value, "true or false")
        return value


class Text(_Named, fields.String):
    """One line of text without control characters."""

    def __init__(self, longest: int = 100, **kwargs: Any) -> None:
        printable = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]*$"
        super().__init__(limits={"maxLength": longest, "pattern": printable}, **kwargs)
        self.longest = longest

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str) or len(value) > self.longest:
            raise self.refused(value, f"text of at most {self.longest} characters")
        if any(map(_is_control, value)):
            raise self.refused(value, "text without control characters")
        return value


class Id(_Named, fields.String):
    """A name in an address: lower-case letters, digits and hyphens."""

    limits: ClassVar = {"pattern": f"^{ID_PATTERN}$"}

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not is_id(value):
            raise self.refused(value, ID_ALLOWED)
        return str(value)


class ReportId(_Named, fields.String):
    """The id of a run, or of another report."""

    limits: ClassVar = {"pattern": f"^{REPORT_ID_PATTERN}$"}

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not is_report_id(value):
            raise self.refused(value, REPORT_ID_ALLOWED)
        return str(value)


class Word(_Named, fields.String):
    """One of a few words."""

    def __init__(self, words: Collection[str], **kwargs: Any) -> None:
        super().__init__(limits={"enum": list(words)}, **kwargs)
        self.words = tuple(words)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str) or value not in self.words:
            raise self.refused(value, one_of(self.words))
        return value


class Pattern(_Named, fields.String):
    """Text of one form."""

    def __init__(self, pattern: str, allowed: str, **kwargs: Any) -> None:
        super().__init__(limits={"pattern": f"^(?:{pattern})$"}, **kwargs)
        self.form = re.compile(pattern, re.ASCII)
        self.allowed = allowed

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str) or self.form.fullmatch(value) is None:
            raise self.refused(value, self.allowed)
        return value


class Day(_Named, fields.Date):
    """A calendar date, YYYY-MM-DD."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> dt.date:
        try:
            return day_from(value)
        except ValueError as allowed:
            raise self.refused(value, str(allowed)) from None


def day_from(value: object) -> dt.date:
    """Read YYYY-MM-DD.

    Raises
    ------
    ValueError
        What is allowed, as the end of a sentence.
    """
    allowed = f"a date written as YYYY-MM-DD, from {FIRST_YEAR} to {LAST_YEAR}"
    if not isinstance(value, str) or _DATE.fullmatch(value) is None:
        raise ValueError(allowed)
    try:
        date = dt.date.fromisoformat(value)
    except ValueError:
        raise ValueError(allowed) from None
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise ValueError(allowed)
    return date


def yearly_day_from(value: object) -> tuple[int, int]:
    """Read --MM-DD (ISO 8601), or MM-DD, as month and day. Raises ValueError for anything else."""
    if not isinstance(value, str) or _YEARLY.fullmatch(value) is None:
        raise ValueError(value)
    of_a_leap_year = dt.date.fromisoformat(f"2000-{value.removeprefix('--')}")
    return of_a_leap_year.month, of_a_leap_year.day


class YearlyDay(_Named, fields.String):
    """A day of every year, MM-DD, as month and day."""

    limits: ClassVar = {"pattern": r"^(--)?\d{2}-\d{2}$"}

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        try:
            return yearly_day_from(value)
        except ValueError:
            raise self.refused(value, "a day of the year written as MM-DD") from None


DAY_OR_YEARLY_DAY: Final = r"^(--|\d{4}-)?\d{2}-\d{2}$"


def day_or_yearly_day_from(value: object) -> dt.date | tuple[int, int]:
    """Read YYYY-MM-DD, or --MM-DD as month and day. Raises ValueError for anything else."""
    if isinstance(value, str) and _YEARLY.fullmatch(value) is not None:
        return yearly_day_from(value)
    return day_from(value)


class Days(_Named, fields.Raw):
    """A date, a day of every year, or a list of them; loaded as a tuple, in the order of time."""

    MOST: ClassVar = 50
    limits: ClassVar = {
        "anyOf": [
            {"type": "string", "pattern": DAY_OR_YEARLY_DAY},
            {
                "type": "array",
                "items": {"type": "string", "pattern": DAY_OR_YEARLY_DAY},
                "minItems": 1,
                "maxItems": MOST,
            },
        ]
    }

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        several = value if isinstance(value, list) else [value]
        if not 1 <= len(several) <= self.MOST:
            raise ValidationError(
                f"{self.shown_name} has {len(several)} entries; it must have 1 to {self.MOST}."
            )
        days = []
        for day in several:
            try:
                days.append(day_or_yearly_day_from(day))
            except ValueError:
                allowed = (
                    f"a date written as YYYY-MM-DD, from {FIRST_YEAR} to {LAST_YEAR}, --MM-DD for that day "
                    "of every year, or a list of dates"
                )
                raise self.refused(day, allowed) from None
        return tuple(sorted(days, key=lambda day: (isinstance(day, dt.date), day)))


class DayOrYearlyDay(_Named, fields.String):
    """A calendar date, or a day of every year as MM-DD; a date, or month and day."""

    limits: ClassVar = {"pattern": DAY_OR_YEARLY_DAY}

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        dates = f"a date written as YYYY-MM-DD, from {FIRST_YEAR} to {LAST_YEAR}"
        allowed = f"{dates}, or MM-DD for that day of every year"
        if isinstance(value, str) and _YEARLY.fullmatch(value) is not None:
            try:
                return yearly_day_from(value)
            except ValueError:
                raise self.refused(value, allowed) from None
        try:
            return day_from(value)
        except ValueError:
            raise self.refused(value, allowed) from None


class Instant(_Named, fields.AwareDateTime):
    """A moment with its offset from UTC, as 2026-07-15T05:15:00+02:00."""

    limits: ClassVar = {"pattern": INSTANT_PATTERN}

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> dt.datetime:
        allowed = f"a moment with offset, as 2026-07-15T05:15:00+02:00, from {FIRST_YEAR} to {LAST_YEAR}"
        if not isinstance(value, str) or _INSTANT.fullmatch(value) is None:
            raise self.refused(value, allowed)
        try:
            instant = dt.datetime.fromisoformat(value)
        except ValueError:
            raise self.refused(value, allowed) from None
        if not FIRST_YEAR <= instant.year <= LAST_YEAR:
            raise self.refused(value, allowed)
        return instant


class TimeZone(_Named, fields.String):
    """Name of a time zone in the IANA database."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str) or value not in _time_zones():
            allowed = "the name of a time zone in the IANA database, as Europe/Paris"
            refused = self.refused(value, allowed)
            hint = nearest(value, _time_zones()) if isinstance(value, str) else ""
            raise ValidationError(f"{refused.messages[0]}{hint}")
        return value


@functools.cache  # it goes through a folder of 600 files
def _time_zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


class CatalogueName(_Named, fields.String):
    """A name that a catalogue holds; `entry` is what looks it up, or raises UnknownName."""

    def __init__(self, kind: str, entry: Callable[[str], object], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.kind = kind
        self.entry = entry

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> str:
        if not isinstance(value, str) or len(value) > 64:
            raise self.refused(value, f"the name of a {self.kind} in the catalogue")
        try:
            self.entry(value)
        except UnknownName as unknown:
            hint = f" Did you mean {one_of(unknown.nearest)}?" if unknown.nearest else ""
            raise ValidationError(
                f"{self.shown_name} is {shown(value)}; no {self.kind} in the catalogue is called so.{hint}"
            ) from None
        return value


class Items(_Named, fields.List[Any]):
    """A JSON list, with a fewest and a most; loaded as a tuple."""

    def __init__(
        self,
        inner: fields.Field[Any],
        fewest: int = 0,
        most: int = 100,
        *,
        unique: bool = False,
        **kwargs: Any,
    ) -> None:
        limits = {"minItems": fewest or None, "maxItems": most, "uniqueItems": unique or None}
        super().__init__(inner, limits=limits, **kwargs)
        self.fewest = fewest
        self.most = most
        self.unique = unique

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        if not isinstance(value, list):
            raise self.refused(value, "a list")
        if not self.fewest <= len(value) <= self.most:
            allowed = f"{self.fewest}" if self.fewest == self.most else f"from {self.fewest} to {self.most}"
            raise ValidationError(f"{self.shown_name} has {len(value)} entries; it must have {allowed}.")
        loaded = tuple(super()._deserialize(value, attr, data, **kwargs))
        if self.unique:
            for place, entry in enumerate(value):
                if entry in value[:place]:
                    raise ValidationError({place: [f"{self.shown_name} has {shown(entry)} twice."]})
        return loaded


class Part(_Named, fields.Nested):
    """A JSON object of a known form."""


class ById(_Named, fields.Dict):
    """A JSON object whose keys are ids; `most` of them at most."""

    def __init__(self, values: fields.Field[Any], fewest: int = 0, most: int = 200, **kwargs: Any) -> None:
        limits = {"minProperties": fewest or None, "maxProperties": most}
        super().__init__(keys=Id(), values=values, limits=limits, **kwargs)
        self.fewest = fewest
        self.most = most

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise self.refused(value, "an object with ids as keys")
        if not self.fewest <= len(value) <= self.most:
            raise ValidationError(
                f"{self.shown_name} has {len(value)} entries; it must have from {self.fewest} to {self.most}."
            )
        loaded: dict[str, Any] = {}
        errors: dict[str, Any] = {}
        entry: Any = self.value_field
        for key, given in value.items():
            if not is_id(key):
                errors[key] = [f"{shown(key)} cannot be an id in {self.shown_name}; an id is {ID_ALLOWED}."]
                continue
            try:
                loaded[key] = entry.deserialize(given, key, value, **kwargs)
            except ValidationError as error:
                errors[key] = error.messages
        if errors:
            raise ValidationError(errors, valid_data=loaded)
        return loaded
