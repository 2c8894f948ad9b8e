"""Soil probes: which readings can be true, how far each probe is believed, what it corrects."""
