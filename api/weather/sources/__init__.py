"""One file a weather source, what they share, and the registry that names them."""
