"""What a home garden needs and FAO-56 leaves out; one function is one published formula.

`soil_water` gives the water points of a soil from its sand and clay, `containers` those of a
pot; `application` turns depths into litres and seconds and back; `infiltration` says how long
a run may last before water leaves the zone; `counted_rain` how much of a forecast to rely on;
`coefficient` gives Kc of mixed ornamental plants.

Quantities are plain floats in the unit that ends their name; shares are 0 to 1. A number that
no garden can have raises ValueError with a sentence that names it and its range.
"""
