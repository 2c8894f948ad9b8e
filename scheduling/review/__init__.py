"""Looking back: a season replayed, where the water went, and what it cost."""
