"""One tap for many zones: when water may flow, in which runs, and who gets how much."""
