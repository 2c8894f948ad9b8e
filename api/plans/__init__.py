"""A plan's life: draft, final, revised, over; the only room that makes plans of stored gardens."""
