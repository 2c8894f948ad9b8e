"""What is odd about a garden before it costs water."""
