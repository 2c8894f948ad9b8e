"""What needs a person's attention: valves, plants, weather, allowances."""
