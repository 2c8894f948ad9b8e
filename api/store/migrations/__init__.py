"""How the tables came to be, one file in `versions` for each step; `api.store.schema` runs them."""
