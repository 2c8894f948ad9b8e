"""The daily soil water balance: weather as demand and rain, and the depletion that follows."""
