"""From hours in UTC to local days: gaps, forecasts that came true or not, the owner's own weather."""
