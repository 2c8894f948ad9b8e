"""The weather days in use, and where each value comes from."""

import orjson
from flask import Response

from api.http.request_params import FROM, TO, query, query_dates
from api.http.responses import Routes, describes, known_answer
from api.plans.plans import PlanLife
from api.schemas.weather_in_use import GardenWeatherSchema
from api.store.rows import strong_etag


def weather_routes(weather: PlanLife) -> Routes:
    """Build the route from what knows the weather of gardens."""
    routes = Routes("weather", __name__, url_prefix="/v1", description="The weather that plans stand on.")

    @routes.route("/gardens/<id:garden>/weather")
    @describes({200: GardenWeatherSchema}, (404, 503), parameters=[FROM, TO], has_etag=True)
    def get_weather(garden: str) -> Response:
        """The weather days that a garden's plans stand on, past and to come, with where each value is from.

        A day is one source's; what it did not know is borrowed from another, or estimated, and named.
        """
        first, last = query_dates(query("from", "to"))
        body = orjson.dumps(weather.weather(garden, first, last))
        return known_answer(body, strong_etag(body))

    return routes
