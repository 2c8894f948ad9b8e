"""Everything that outlives a request, and the only SQL: SQLite in a file, or PostgreSQL.

`store.Store` holds gardens, reports, final plans and answers; `weather.WeatherRows` the weather that
has been fetched. `tables` and `migrations` say what the database looks like.
"""
