"""What can go wrong with the store, named for the situation."""


class StoreError(Exception):
    """Base of every error that the store raises on purpose."""


class StoreUnavailable(StoreError):
    """The database cannot be opened, or does not answer; the text says which and why."""


class GardenGone(StoreError):
    """Something was to be kept for a garden that is not, or no longer, stored."""

    def __init__(self, garden_id: str) -> None:
        super().__init__(f"No garden is stored as {garden_id!r}.")
        self.garden_id = garden_id
