"""A garden as its owner describes it, and what is reported of it."""
