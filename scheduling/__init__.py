"""Decides which zones of a garden need water, and how much.

The way through it, one file after another: `garden` (what is described), `weather` (what falls and
what the air asks for), `reports` (what really flowed), `zone` (a zone with every number in place),
`season` (its numbers day by day), `rules`, `balance` and `ledger` (its water), `need`, `decision`,
`supply` (who has the tap when), `plan`. `planner` walks it for one date, `replay` for a past season.

It knows no web framework, no network, no database and no clock: all of them are arguments.
Quantities are plain floats in the unit that ends their name; shares are 0 to 1.
"""
