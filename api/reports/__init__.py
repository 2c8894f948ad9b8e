"""What owners, controllers and instruments report: water, own weather, soil moisture, valves."""
