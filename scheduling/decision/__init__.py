"""Whether a zone is watered on a date, and how much."""
