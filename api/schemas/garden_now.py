"""What `GET /v1/gardens/{garden}/now` answers."""

from api.schemas.alerts import AlertSchema
from api.schemas.base import Schema
from api.schemas.fields import ById, Day, Id, Instant, Items, Number, Part, Text, Whole, Word
from api.schemas.flat_zone import FlatZoneSchema
from api.schemas.plan import PHASES


class GardenNowSchema(Schema):
    """A garden now, with one ETag: the next plan, its zones, this month's litres, weather and alerts."""

    garden = Id(required=True, about="Id of the garden.")
    name = Text(required=True, about="The garden's name; its id where it has none.")
    date = Day(required=True, about="The date of the next plan.")
    phase = Word(PHASES, required=True, about="No water flows by a draft, nor by a plan that is over.")
    text = Text(1000, required=True, about="The night in one sentence, for people; it may improve.")
    final_at = Instant(required=True, allow_none=True, about="When the plan becomes final.")
    valid_until = Instant(required=True, about="Nobody should act on the plan after this moment.")
    volume_l = Number(0, required=True, about="What the plan gives all zones.")
    delivered_l = Number(0, required=True, about="What has already flowed for its date.")
    remaining_l = Number(0, required=True, about="What its runs to come still give.")
    month_l = Number(
        0,
        required=True,
        allow_none=True,
        about="What counts of what has flowed this calendar month, by the dates of plans; null where water "
        "may have flowed and nothing is known.",
    )
    allowance_left_l = Number(
        0,
        required=True,
        allow_none=True,
        about="What is left of the day's, week's or month's allowance, the least of them; null: no limit.",
    )
    main_valve_opens_at = Instant(
        required=True, allow_none=True, about="When a valve ahead of all zones opens; null: not at all."
    )
    main_valve_closes_at = Instant(required=True, allow_none=True, about="When it closes.")
    main_valve_max_open_s = Whole(
        0, 10_000_000, required=True, about="Open for longer, something is stuck; 0: it stays shut."
    )
    main_valve_max_volume_l = Number(
        0, required=True, about="With more than this, something is stuck or leaking; 0: it stays shut."
    )
    weather = Text(1000, required=True, about="Whose weather the plan stands on, of when, in a sentence.")
    attribution = Text(5000, required=True, about="What the licences of the data ask to be shown.")
    alert_count = Whole(0, 10_000, required=True, about="How many alerts there are.")
    alerts = Items(Part(AlertSchema), 0, 10_000, required=True, about="The most urgent first.")
    zones = ById(Part(FlatZoneSchema), required=True, about="Each zone, flat, by its id.")
