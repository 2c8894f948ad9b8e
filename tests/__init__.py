"""A package, so that none of the same name takes its place: some wheels bring their own `tests` along."""
