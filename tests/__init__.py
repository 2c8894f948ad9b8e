"""The only package among the tests: a library brings a package `tests` of its own, and ours goes first."""
