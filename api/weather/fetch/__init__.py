"""When to ask a weather source, in which order, and what is kept of its answers."""
