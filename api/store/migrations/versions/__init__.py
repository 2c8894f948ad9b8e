"""The steps, named m0001_..., m0002_..., each once written and never edited."""
