"""How our types look in JSON, and nothing else."""
