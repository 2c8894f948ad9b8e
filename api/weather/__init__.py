"""Where weather days come from: one file a source, one step from hours to local days.

A source turns its answer into hours in UTC, in our words and units (`hours`), or raises one of
`errors`; `session` asks for all of them, `reading` knows what no atmosphere has, `coverage` says
where a source works. `days` makes local calendar days of hours, whatever the source. `forecasts`
knows how fresh weather has to be, `fetching` asks the sources, `keeping` says what a store must do.
"""
