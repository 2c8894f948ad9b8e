"""A zone in numbers: crop, soil, hydraulics and rules, from its owner or the catalogue."""
